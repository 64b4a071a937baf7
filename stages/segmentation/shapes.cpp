#include "stages/segmentation/shapes.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <opencv2/imgproc.hpp>

namespace papillote::segmentation {
namespace {

std::optional<cv::Point2d> meeting(const cv::Point2d& a, const cv::Point2d& b, const cv::Point2d& c, const cv::Point2d& d) {
  const cv::Point2d along = b - a;
  const cv::Point2d other = d - c;
  const double sine = along.cross(other);
  if (std::abs(sine) < 0.1 * cv::norm(along) * cv::norm(other)) return std::nullopt;
  return a + along * ((c - a).cross(other) / sine);
}

double angle_between(const cv::Point2d& a, const cv::Point2d& b) {
  return std::acos(std::clamp(a.dot(b) / std::max(cv::norm(a) * cv::norm(b), 1e-9), -1.0, 1.0)) * 180 / CV_PI;
}

std::vector<cv::Point2f> as_floats(const Shape& shape) { return {shape.begin(), shape.end()}; }

}  // namespace

double area_of(const Shape& shape) {
  double twice = 0;
  for (std::size_t i = 0; i < shape.size(); ++i) twice += shape[i].cross(shape[(i + 1) % shape.size()]);
  return std::abs(twice) / 2;
}

// Clipped side by side (Sutherland and Hodgman 1974). OpenCV's function loses shapes whose sides nearly coincide.
double overlap_area(const Shape& one, const Shape& convex) {
  Shape left = one;
  for (std::size_t i = 0; i < convex.size() && !left.empty(); ++i) {
    const cv::Point2d& a = convex[i];
    const cv::Point2d along = convex[(i + 1) % convex.size()] - a;
    Shape kept;
    for (std::size_t k = 0; k < left.size(); ++k) {
      const cv::Point2d& p = left[k];
      const cv::Point2d& q = left[(k + 1) % left.size()];
      const double from = along.cross(p - a);
      const double to = along.cross(q - a);
      if (from >= 0) kept.push_back(p);
      if ((from > 0 && to < 0) || (from < 0 && to > 0)) kept.push_back(p + (q - p) * (from / (from - to)));
    }
    left = std::move(kept);
  }
  return area_of(left);
}

bool contains(const Shape& shape, const cv::Point2d& p) { return cv::pointPolygonTest(as_floats(shape), cv::Point2f(p), false) >= 0; }

bool is_convex(const Shape& shape) {
  const std::size_t n = shape.size();
  double turned = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d before = shape[(i + 1) % n] - shape[i];
    const cv::Point2d after = shape[(i + 2) % n] - shape[(i + 1) % n];
    if (before.cross(after) <= 0) return false;
    turned += std::atan2(before.cross(after), before.dot(after));
  }
  return n >= 3 && turned < 2.5 * CV_PI;  // once round, not twice
}

std::optional<Shape> around(const Shape& convex, std::size_t sides) {
  Shape shape = convex;
  while (shape.size() > sides) {
    const std::size_t n = shape.size();
    double least = std::numeric_limits<double>::infinity();
    std::size_t dropped = n;
    cv::Point2d corner;
    for (std::size_t i = 0; i < n; ++i) {
      const cv::Point2d& a = shape[(i + n - 1) % n];
      const cv::Point2d& b = shape[i];
      const cv::Point2d& c = shape[(i + 1) % n];
      const cv::Point2d& d = shape[(i + 2) % n];
      const auto p = meeting(a, b, d, c);
      if (!p || (*p - b).dot(b - a) < 0 || (*p - c).dot(c - d) < 0) continue;  // the neighbours part instead of meeting
      const double added = std::abs((*p - b).cross(c - b)) / 2;
      if (added < least) least = added, dropped = i, corner = *p;
    }
    if (dropped == n) return std::nullopt;
    const std::size_t next = (dropped + 1) % n;
    shape[dropped] = corner;
    shape.erase(shape.begin() + static_cast<std::ptrdiff_t>(next));
  }
  return shape;
}

std::string name_of(const Shape& shape) {
  if (shape.size() == 3) return "triangle";
  if (shape.size() != 4) return "polygon";
  const double ab = angle_between(shape[1] - shape[0], shape[2] - shape[3]);
  const double cd = angle_between(shape[2] - shape[1], shape[3] - shape[0]);
  constexpr double kParallel_deg = 5;
  if (ab < kParallel_deg && cd < kParallel_deg && std::abs(angle_between(shape[1] - shape[0], shape[2] - shape[1]) - 90) < 6)
    return "rectangle";
  return ab < kParallel_deg || cd < kParallel_deg ? "trapezoid" : "polygon";
}

std::vector<cv::Point2d> frame_of(const Shape& shape) {
  const std::size_t n = shape.size();
  double least = std::numeric_limits<double>::infinity();
  double longest = 0;
  std::vector<cv::Point2d> frame;
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d side = shape[(i + 1) % n] - shape[i];
    const double length = cv::norm(side);
    if (length < 1) continue;
    const cv::Point2d right = side / length;
    const cv::Point2d down(-right.y, right.x);
    double x0 = 0, x1 = 0, y0 = 0, y1 = 0;
    for (const cv::Point2d& p : shape) {
      const cv::Point2d d = p - shape[i];
      x0 = std::min(x0, d.dot(right)), x1 = std::max(x1, d.dot(right));
      y0 = std::min(y0, d.dot(down)), y1 = std::max(y1, d.dot(down));
    }
    const double area = (x1 - x0) * (y1 - y0);
    const bool better = n == 3 ? length > longest : area < least;
    if (!better) continue;
    least = area, longest = length;
    frame = {shape[i] + right * x0 + down * y0, shape[i] + right * x1 + down * y0, shape[i] + right * x1 + down * y1,
             shape[i] + right * x0 + down * y1};
  }
  if (frame.empty()) return frame;
  if (n == 3) {
    // The shape is clockwise, so its longest side came out as the upper edge: turn by half.
    std::rotate(frame.begin(), frame.begin() + 2, frame.end());
    return frame;
  }
  // The turn nearest to how the photograph lies: upper edge pointing right.
  std::size_t first = 0;
  for (std::size_t i = 1; i < 4; ++i) {
    const auto rightward = [&](std::size_t k) {
      const cv::Point2d d = frame[(k + 1) % 4] - frame[k];
      return d.x / std::max(cv::norm(d), 1e-9);
    };
    if (rightward(i) > rightward(first)) first = i;
  }
  std::rotate(frame.begin(), frame.begin() + static_cast<std::ptrdiff_t>(first), frame.end());
  return frame;
}

}  // namespace papillote::segmentation
