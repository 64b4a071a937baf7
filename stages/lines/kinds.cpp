#include "stages/lines/kinds.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <opencv2/imgproc.hpp>

namespace papillote::lines {
namespace {

struct Mark {
  double u0 = 1e18, u1 = -1e18, v0 = 1e18, v1 = -1e18, ink = 0;
};

double median(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

std::vector<Mark> marks_of(const InkLine& line, const Axes& axes, cv::Mat& picture) {
  const cv::Rect box = cv::boundingRect(line.ink);
  picture = cv::Mat::zeros(box.size() + cv::Size(2, 2), CV_8U);
  const cv::Point corner = box.tl() - cv::Point(1, 1);
  for (const cv::Point& p : line.ink) picture.at<std::uint8_t>(p - corner) = 255;
  cv::Mat labels;
  std::vector<Mark> marks(static_cast<std::size_t>(cv::connectedComponents(picture, labels, 8, CV_32S)));
  for (const cv::Point& p : line.ink) {
    Mark& mark = marks[static_cast<std::size_t>(labels.at<int>(p - corner))];
    const double u = axes.u(p), v = axes.v(p);
    mark.u0 = std::min(mark.u0, u - 0.5);
    mark.u1 = std::max(mark.u1, u + 0.5);
    mark.v0 = std::min(mark.v0, v - 0.5);
    mark.v1 = std::max(mark.v1, v + 0.5);
    ++mark.ink;
  }
  marks.erase(marks.begin());
  std::sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.u0 < b.u0; });
  return marks;
}

// Highest autocorrelation of the ink's profile along the line, at distances that letters of this height can have.
double pitch_regularity(const InkLine& line, const Axes& axes, double px_per_mm) {
  const double cell = std::max(1.0, px_per_mm / 8);
  std::vector<double> profile(static_cast<std::size_t>(line.length() / cell) + 1);
  for (const cv::Point& p : line.ink) profile[std::min(profile.size() - 1, static_cast<std::size_t>(std::max(0.0, (axes.u(p) - line.u0) / cell)))] += 1;
  const double mean = std::accumulate(profile.begin(), profile.end(), 0.0) / static_cast<double>(profile.size());
  double power = 1e-9;
  for (double& value : profile) {
    value -= mean;
    power += value * value;
  }
  const auto least = static_cast<std::size_t>(1.2 * px_per_mm / cell), most = static_cast<std::size_t>(3.6 * px_per_mm / cell);
  double best = 0;
  for (std::size_t lag = least; lag <= most && 3 * lag < profile.size(); ++lag) {
    double once = 0, twice = 0;
    for (std::size_t i = 0; i + lag < profile.size(); ++i) once += profile[i] * profile[i + lag];
    for (std::size_t i = 0; i + 2 * lag < profile.size(); ++i) twice += profile[i] * profile[i + 2 * lag];
    best = std::max(best, (once + twice) / (2 * power));
  }
  return best;
}

}  // namespace

Traits traits_of(const InkLine& line, const InkMap& map) {
  const Axes axes(line.along_deg);
  cv::Mat picture;
  const auto marks = marks_of(line, axes, picture);
  Traits t;
  t.height_mm = line.height() / map.px_per_mm;
  if (marks.empty() || line.height() <= 0) return t;
  t.marks_per_height = static_cast<double>(marks.size()) / std::max(1.0, line.length() / line.height());

  double ink = 0, joined = 0;
  std::vector<double> heights, feet;
  for (const Mark& mark : marks) {
    ink += mark.ink;
    joined += mark.ink * std::min(4.0, (mark.u1 - mark.u0) / std::max(1.0, mark.v1 - mark.v0));
    if (mark.v1 - mark.v0 < 0.25 * line.height()) continue;
    heights.push_back(mark.v1 - mark.v0);
    feet.push_back(mark.v1);
  }
  t.joined = joined / ink;
  const double foot = median(feet);
  std::vector<double> away;
  for (const double f : feet) away.push_back(std::abs(f - foot) / line.height());
  t.ragged_foot = away.empty() ? 0.5 : std::accumulate(away.begin(), away.end(), 0.0) / static_cast<double>(away.size());
  const double usual = median(heights);
  double even = 0;
  for (const double h : heights) even += std::abs(h - usual) < 0.08 * usual ? 1 : 0;
  t.even_height = heights.empty() ? 0 : even / static_cast<double>(heights.size());
  t.even_pitch = pitch_regularity(line, axes, map.px_per_mm);

  cv::Mat distance;
  cv::distanceTransform(picture, distance, cv::DIST_L2, 3);
  // Mean distance to the edge is a quarter of a stroke's thickness.
  t.stroke_mm = 4 * (cv::sum(distance)[0] / static_cast<double>(line.ink.size()) - 0.5) / map.px_per_mm;

  double colour = 0, contrast = 0;
  for (const cv::Point& p : line.ink) {
    const auto& missing = map.missing.at<cv::Vec3f>(p);
    const auto [low, high] = std::minmax({missing[0], missing[1], missing[2]});
    colour += high - low;
    contrast += high;
  }
  t.colour = contrast > 0 ? colour / contrast : 0;
  t.contrast = contrast / static_cast<double>(line.ink.size());
  return t;
}

KindGuess guess_kind(const Traits& t) {
  const bool separate = t.joined < 0.95 && t.ragged_foot < 0.12;
  if (!separate) return {LineKind::handwritten, 0.8};
  if (t.even_pitch > 0.35) return {LineKind::typed, 0.7};
  if (t.even_height > 0.6) return {LineKind::stamped, 0.5};
  return {LineKind::printed, 0.5};
}

}  // namespace papillote::lines
