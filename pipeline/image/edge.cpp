#include "pipeline/image/edge.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace papillote::image {
namespace {

constexpr double kStep_px = 0.5;  // along a profile

// Bilinear grey level; (x, y) in record coordinates, clamped to the picture.
double level_at(const cv::Mat& grey, double x, double y) {
  x = std::clamp(x - 0.5, 0.0, grey.cols - 1.001);
  y = std::clamp(y - 0.5, 0.0, grey.rows - 1.001);
  const int x0 = static_cast<int>(x);
  const int y0 = static_cast<int>(y);
  const double fx = x - x0;
  const double fy = y - y0;
  const uchar* upper = grey.ptr(y0) + x0;
  const uchar* lower = grey.ptr(y0 + 1) + x0;
  return (upper[0] * (1 - fx) + upper[1] * fx) * (1 - fy) + (lower[0] * (1 - fx) + lower[1] * fx) * fy;
}

struct Place {
  cv::Point2d at;
  double jump = 0;  // grey left minus right
};

// Total least squares.
Line line_through(const std::vector<Place>& places, const std::vector<bool>& used) {
  cv::Point2d mean;
  double count = 0;
  for (std::size_t i = 0; i < places.size(); ++i)
    if (used[i]) mean += places[i].at, ++count;
  mean /= count;
  double xx = 0;
  double xy = 0;
  double yy = 0;
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (!used[i]) continue;
    const cv::Point2d d = places[i].at - mean;
    xx += d.x * d.x, xy += d.x * d.y, yy += d.y * d.y;
  }
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  return {mean, {std::cos(angle), std::sin(angle)}};
}

double offset_of(const Line& line, const cv::Point2d& p) { return (p - line.at).cross(line.along); }

}  // namespace

std::optional<EdgeFit> fit_edge(const cv::Mat& grey, const Point& a, const Point& b, double reach_px, Polarity polarity) {
  if (grey.rows < 2 || grey.cols < 2) return std::nullopt;
  const cv::Point2d from(a.x, a.y);
  const cv::Point2d span(b.x - a.x, b.y - a.y);
  const double length = cv::norm(span);
  if (length < 4 || reach_px < 1) return std::nullopt;
  const cv::Point2d along = span / length;
  const cv::Point2d left(along.y, -along.x);

  const int profiles = std::clamp(static_cast<int>(length / 3), 8, 100);
  const double spacing = 0.8 * length / profiles;
  const int half = static_cast<int>(std::ceil(reach_px / kStep_px));
  // The slope is taken over a width that grows with the reach, so that noise and grain weigh less in a wide search.
  const int width = std::clamp(half / 8, 2, 6);
  std::vector<Place> places;
  std::vector<double> profile(static_cast<std::size_t>(2 * (half + width) + 1));
  for (int i = 0; i < profiles; ++i) {
    const cv::Point2d foot = from + along * (0.1 * length + (i + 0.5) * spacing);
    for (std::size_t k = 0; k < profile.size(); ++k) {
      const double t = (static_cast<double>(k) - half - width) * kStep_px;  // positive = left
      double sum = 0;
      for (const double s : {-0.33, 0.0, 0.33}) {
        const cv::Point2d p = foot + left * t + along * (s * std::min(spacing, 3.0));
        sum += level_at(grey, p.x, p.y);
      }
      profile[k] = sum / 3;
    }
    std::vector<double> slope(static_cast<std::size_t>(2 * half + 1));
    for (std::size_t k = 0; k < slope.size(); ++k)
      for (int w = 1; w <= width; ++w) {
        const auto centre = k + static_cast<std::size_t>(width);
        slope[k] += (profile[centre + static_cast<std::size_t>(w)] - profile[centre - static_cast<std::size_t>(w)]) / width;
      }
    const auto size_of = [&](double s) { return polarity == Polarity::either ? std::abs(s) : s; };
    const auto steepest = std::max_element(slope.begin(), slope.end(), [&](double s, double t) { return size_of(s) < size_of(t); });
    const auto k = static_cast<std::size_t>(steepest - slope.begin());
    if (k == 0 || k + 1 == slope.size() || size_of(*steepest) < 1.5) continue;
    const double before = size_of(slope[k - 1]);
    const double here = size_of(slope[k]);
    const double after = size_of(slope[k + 1]);
    const double bend = before - 2 * here + after;
    const double part = bend < 0 ? 0.5 * (before - after) / bend : 0;
    const double t = (static_cast<double>(k) - half + std::clamp(part, -0.5, 0.5)) * kStep_px;
    places.push_back({foot + left * t, *steepest});
  }
  const std::size_t enough = static_cast<std::size_t>(profiles) / 2;
  if (places.size() < enough) return std::nullopt;

  // Consensus over pairs far apart, then least squares over those that agree.
  const double tolerance = std::max(0.75, 0.12 * reach_px);
  std::size_t most = 0;
  Line best;
  const std::size_t n = places.size();
  for (std::size_t i = 0; i < n; i += std::max<std::size_t>(1, n / 24))
    for (std::size_t j = i + n / 4 + 1; j < n; j += std::max<std::size_t>(1, n / 24)) {
      const cv::Point2d d = places[j].at - places[i].at;
      const double norm = cv::norm(d);
      if (norm < 1 || std::abs(d.dot(along)) < 0.85 * norm) continue;
      const Line line{places[i].at, d / norm};
      const auto agree = static_cast<std::size_t>(std::count_if(places.begin(), places.end(), [&](const Place& p) {
        return std::abs(offset_of(line, p.at)) < tolerance;
      }));
      if (agree > most) most = agree, best = line;
    }
  if (most < enough) return std::nullopt;
  EdgeFit fit;
  std::vector<bool> used(n);
  for (int round = 0; round < 3; ++round) {
    const double within = round == 0 ? tolerance : std::max(0.3, std::min(tolerance, 2.5 * fit.residual_px));
    for (std::size_t i = 0; i < n; ++i) used[i] = std::abs(offset_of(best, places[i].at)) < within;
    if (std::count(used.begin(), used.end(), true) < 4) break;
    best = line_through(places, used);
    double squares = 0;
    double jump = 0;
    double count = 0;
    for (std::size_t i = 0; i < n; ++i)
      if (used[i]) squares += std::pow(offset_of(best, places[i].at), 2), jump += places[i].jump, ++count;
    fit.residual_px = std::sqrt(squares / count);
    fit.contrast = jump / count;
  }
  fit.line = best;
  fit.support = static_cast<double>(most) / profiles;
  return fit;
}

std::optional<Point> crossing(const Line& one, const Line& other) {
  const double sine = one.along.cross(other.along);
  if (std::abs(sine) < 0.087) return std::nullopt;
  const cv::Point2d p = one.at + one.along * ((other.at - one.at).cross(other.along) / sine);
  return Point{p.x, p.y};
}

}  // namespace papillote::image
