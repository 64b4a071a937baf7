#include "stages/lines/cores.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "pipeline/record/rank.h"

namespace papillote::lines {
namespace {

constexpr double kReach = 4;            // the net measures heights in units of this many pixels of its maps
constexpr double kLeastCore = 0.5;      // probability
constexpr double kSameLine = 0.7;       // cosine between neighbouring pixels of one line
constexpr double kEnds = 0.3;           // a core ends this share of half the line's height before the line does

struct Pixel {
  cv::Point at;
  double cos_along, sin_along, above, below, core;
};

double turn_between(double a_deg, double b_deg) { return std::abs(std::remainder(a_deg - b_deg, 360.0)); }

// The long axis of the pixels where they have one, since a core is longer than wide; the net's own direction (`c`, `s`) says which way it is
// read, and decides alone where there is none.
double direction_of(const std::vector<Pixel>& pixels, double c, double s) {
  const double n = static_cast<double>(pixels.size());
  double x = 0, y = 0;
  for (const Pixel& p : pixels) {
    x += p.at.x / n;
    y += p.at.y / n;
  }
  double xx = 0, yy = 0, xy = 0;
  for (const Pixel& p : pixels) {
    xx += (p.at.x - x) * (p.at.x - x) / n;
    yy += (p.at.y - y) * (p.at.y - y) / n;
    xy += (p.at.x - x) * (p.at.y - y) / n;
  }
  const double spread = std::hypot(xx - yy, 2 * xy), longer = (xx + yy + spread) / 2, shorter = std::max(1.0 / 12, (xx + yy - spread) / 2);
  constexpr double kElongated = 1.8;
  double along = std::atan2(s, c);
  if (std::sqrt(longer / shorter) > kElongated) {
    const double axis = std::atan2(2 * xy, xx - yy) / 2;
    along = std::cos(axis - along) >= 0 ? axis : axis + std::numbers::pi;
  }
  return std::remainder(along * 180 / std::numbers::pi, 360.0);
}

Core line_through(const std::vector<Pixel>& pixels) {
  Core line;
  double c = 0, s = 0, core = 0;
  for (const Pixel& p : pixels) {
    c += p.cos_along;
    s += p.sin_along;
    core += p.core;
  }
  line.along_deg = direction_of(pixels, c, s);
  const Axes axes(line.along_deg);
  std::vector<double> tops, feet;
  tops.reserve(pixels.size());
  feet.reserve(pixels.size());
  line.u0 = 1e9, line.u1 = -1e9;
  for (const Pixel& p : pixels) {
    const cv::Point2d middle(p.at.x + 0.5, p.at.y + 0.5);
    const double u = axes.u(middle), v = axes.v(middle);
    line.u0 = std::min(line.u0, u - 0.5);
    line.u1 = std::max(line.u1, u + 0.5);
    tops.push_back(v - p.above * kReach);
    feet.push_back(v + p.below * kReach);
  }
  line.v0 = median(std::move(tops));
  line.v1 = std::max(line.v0 + 1, median(std::move(feet)));
  line.u0 -= kEnds * line.height() / 2;
  line.u1 += kEnds * line.height() / 2;
  line.pixels = static_cast<double>(pixels.size());
  line.firmness = core / line.pixels;
  return line;
}

// A piece as it lies along another one.
struct Span {
  double u0 = 1e9, u1 = -1e9, v = 0;
};

Span along(const Axes& axes, const Core& piece) {
  const Axes its(piece.along_deg);
  const double v = (piece.v0 + piece.v1) / 2;
  Span span;
  for (const cv::Point2d p : {its.at(piece.u0, v), its.at(piece.u1, v)}) {
    span.u0 = std::min(span.u0, axes.u(p));
    span.u1 = std::max(span.u1, axes.u(p));
  }
  span.v = axes.v(its.at((piece.u0 + piece.u1) / 2, v));
  return span;
}

// Two pieces that one line holds: same direction, side by side with little between. A single letter has no direction of its own. Where the net
// wavers between print and annotation along one row, the row is one thing.
bool belong_together(const Core& longer, const Core& other) {
  const bool letter = other.length() < 1.6 * other.height() && other.pixels < 0.5 * longer.pixels;
  if (!letter && turn_between(longer.along_deg, other.along_deg) > 12) return false;
  const bool alike = longer.newsprint() == other.newsprint();
  const double larger = std::max(longer.height(), other.height()), smaller = std::min(longer.height(), other.height());
  if (smaller < (alike ? 0.45 : 0.75) * larger) return false;
  const Span span = along(Axes(longer.along_deg), other);
  if (std::abs(span.v - (longer.v0 + longer.v1) / 2) > (alike ? 0.35 : 0.2) * larger) return false;
  const double gap = std::max(span.u0 - longer.u1, longer.u0 - span.u1);
  return gap < (longer.newsprint() || !alike ? 0.6 : 1.8) * smaller;
}

Core joined(const Core& longer, const Core& other) {
  Core both = longer;
  const Span span = along(Axes(longer.along_deg), other);
  both.u0 = std::min(both.u0, span.u0);
  both.u1 = std::max(both.u1, span.u1);
  both.v0 = std::min(both.v0, span.v - other.height() / 2);
  both.v1 = std::max(both.v1, span.v + other.height() / 2);
  both.pixels = longer.pixels + other.pixels;
  both.firmness = (longer.firmness * longer.pixels + other.firmness * other.pixels) / both.pixels;
  for (std::size_t k = 0; k < both.kinds.size(); ++k) both.kinds[k] = (longer.kinds[k] * longer.pixels + other.kinds[k] * other.pixels) / both.pixels;
  return both;
}

}  // namespace

Axes::Axes(double along_deg)
    : cos_along(std::cos(along_deg * std::numbers::pi / 180)), sin_along(std::sin(along_deg * std::numbers::pi / 180)) {}

std::vector<Core> gather(const models::CropMarks& marks) {
  if (marks.maps.size() != kChannels) return {};
  const cv::Size size = marks.paper.size();
  const auto at = [&](std::size_t channel, cv::Point p) { return static_cast<double>(marks.maps[channel].at<float>(p)); };

  // 0 = no core, 1 = annotation, 2 = newsprint
  cv::Mat sort = cv::Mat::zeros(size, CV_8U);
  std::vector<Pixel> all;
  cv::Mat place(size, CV_32S, cv::Scalar(-1));
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      const cv::Point p(x, y);
      const double core = 1 / (1 + std::exp(-at(kCore, p)));
      if (marks.paper.at<std::uint8_t>(p) == 0 || core < kLeastCore) continue;
      const double c = at(kCosine, p), s = at(kSine, p), length = std::max(1e-3, std::hypot(c, s));
      double annotation = 0;
      for (std::size_t k = 0; k + 1 < kKinds.size(); ++k) annotation += std::exp(at(kFirstKind + k, p));
      sort.at<std::uint8_t>(p) = std::exp(at(kFirstKind + kKinds.size() - 1, p)) > annotation ? 2 : 1;
      place.at<int>(p) = static_cast<int>(all.size());
      all.push_back({p, c / length, s / length, std::max(0.0, at(kAbove, p)), std::max(0.0, at(kBelow, p)), core});
    }

  std::vector<Core> lines;
  std::vector<bool> taken(all.size());
  for (std::size_t first = 0; first < all.size(); ++first) {
    if (taken[first]) continue;
    taken[first] = true;
    std::vector<Pixel> own{all[first]};
    for (std::size_t i = 0; i < own.size(); ++i) {
      const Pixel here = own[i];
      for (int dy = -1; dy <= 1; ++dy)
        for (int dx = -1; dx <= 1; ++dx) {
          const cv::Point p = here.at + cv::Point(dx, dy);
          if (!cv::Rect(cv::Point(), size).contains(p) || sort.at<std::uint8_t>(p) != sort.at<std::uint8_t>(here.at)) continue;
          const auto k = static_cast<std::size_t>(place.at<int>(p));
          if (taken[k] || here.cos_along * all[k].cos_along + here.sin_along * all[k].sin_along < kSameLine) continue;
          taken[k] = true;
          own.push_back(all[k]);
        }
    }
    constexpr std::size_t kLeastPixels = 6;
    if (own.size() < kLeastPixels) continue;
    Core line = line_through(own);
    // The geometric mean over the core: a line is of one kind.
    double sum = 0;
    for (std::size_t k = 0; k < kKinds.size(); ++k) {
      double logs = 0;
      for (const Pixel& p : own) logs += at(kFirstKind + k, p.at);
      line.kinds[k] = std::exp(logs / line.pixels);
      sum += line.kinds[k];
    }
    for (double& k : line.kinds) k /= std::max(1e-300, sum);
    lines.push_back(line);
  }

  // The largest pieces first, each taking up what belongs to it.
  bool again = true;
  while (again) {
    again = false;
    std::stable_sort(lines.begin(), lines.end(), [](const Core& a, const Core& b) { return a.pixels > b.pixels; });
    for (std::size_t i = 0; i < lines.size() && !again; ++i)
      for (std::size_t j = i + 1; j < lines.size() && !again; ++j) {
        if (!belong_together(lines[i], lines[j])) continue;
        lines[i] = joined(lines[i], lines[j]);
        lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(j));
        again = true;
      }
  }
  return lines;
}

}  // namespace papillote::lines
