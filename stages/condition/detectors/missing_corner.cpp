// A corner that is gone: where two sides of the envelope would meet, a short ragged edge cuts across. Folded and cut edges are straight; torn ones
// wander.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

// Root mean square of the outline's distance from the straight line through it, between `from` and `to`.
double raggedness_px(const Polygon& outline, cv::Point2d from, cv::Point2d to, double reach_px) {
  const cv::Point2d chord = to - from;
  const double length = cv::norm(chord);
  const cv::Point2d along = chord / length;
  std::vector<cv::Point2d> near;  // along and across the chord
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const cv::Point2d a(outline[i].x, outline[i].y);
    const cv::Point2d b(outline[(i + 1) % outline.size()].x, outline[(i + 1) % outline.size()].y);
    const int steps = std::max(1, cvRound(cv::norm(b - a) / 2));
    for (int k = 0; k < steps; ++k) {
      const cv::Point2d p = a + (b - a) * (static_cast<double>(k) / steps) - from;
      const cv::Point2d local(p.dot(along), p.x * along.y - p.y * along.x);
      if (local.x > 0.08 * length && local.x < 0.92 * length && std::abs(local.y) < reach_px) near.push_back(local);
    }
  }
  if (near.size() < 6) return 0;
  double x = 0, y = 0, xx = 0, xy = 0;
  const double n = static_cast<double>(near.size());
  for (const cv::Point2d& p : near) {
    x += p.x / n;
    y += p.y / n;
    xx += p.x * p.x / n;
    xy += p.x * p.y / n;
  }
  const double slope = (xy - x * y) / std::max(1e-9, xx - x * x);
  double sum = 0;
  for (const cv::Point2d& p : near) sum += std::pow(p.y - y - slope * (p.x - x), 2);
  return std::sqrt(sum / n);
}

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  std::vector<cv::Point> outline;
  for (const Point& p : view.outline) outline.emplace_back(cvRound(p.x), cvRound(p.y));
  if (outline.size() < 4) return {};
  std::vector<cv::Point> hull;
  cv::convexHull(outline, hull);
  std::vector<cv::Point> whole;
  cv::approxPolyDP(hull, whole, 0.7 * unit, true);
  const std::size_t n = whole.size();
  if (n < 4) return {};
  std::vector<Sign> signs;
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d before = whole[(i + n - 1) % n];
    const cv::Point2d from = whole[i];
    const cv::Point2d to = whole[(i + 1) % n];
    const cv::Point2d after = whole[(i + 2) % n];
    const double length = cv::norm(to - from);
    if (length < 4 * unit || length > 45 * unit) continue;
    const cv::Point2d u = (from - before) / std::max(1.0, cv::norm(from - before));
    const cv::Point2d v = (to - after) / std::max(1.0, cv::norm(to - after));
    if (cv::norm(from - before) < 6 * unit || cv::norm(to - after) < 6 * unit) continue;
    const double cross = u.x * v.y - u.y * v.x;
    if (std::abs(cross) < 0.5) continue;  // sides that meet at less than 30 degrees or run on
    const cv::Point2d gap = to - from;
    const double s = (gap.x * v.y - gap.y * v.x) / cross;
    const double t = (gap.x * u.y - gap.y * u.x) / cross;
    if (s <= 0 || t <= 0) continue;
    const cv::Point2d corner = from + u * s;
    const double area = 0.5 * std::abs(gap.x * (corner - from).y - gap.y * (corner - from).x);
    const double depth = 2 * area / length;
    if (depth < 3 * unit || depth > 28 * unit) continue;
    // Another envelope that lies over the corner hides it.
    cv::Mat gone = cv::Mat::zeros(view.paper.size(), CV_8U);
    cv::fillConvexPoly(gone, std::vector<cv::Point>{from, to, corner}, cv::Scalar(255));
    cv::Mat hidden;
    cv::bitwise_and(gone, view.others, hidden);
    if (cv::countNonZero(hidden) > 0.3 * cv::countNonZero(gone)) continue;
    const double ragged = raggedness_px(view.outline, from, to, 4 * unit) / unit;
    Sign sign;
    sign.region = {{from.x, from.y}, {corner.x, corner.y}, {to.x, to.y}};
    sign.confidence = confidence_of(ragged, 0.2, 0.04);
    sign.severity = severity_of(depth / unit, 7, 10, 15);
    if (view.px_per_mm) {
      sign.size_mm = length / *view.px_per_mm;
      sign.words = fmt::format("corner gone, {:.0f} mm across", *sign.size_mm);
    }
    if (sign.confidence > 0.35) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector missing_corner{"missing_corner", 2, look};

}  // namespace papillote::condition::detectors
