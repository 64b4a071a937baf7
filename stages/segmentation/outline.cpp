#include "stages/segmentation/outline.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/edge.h"

namespace papillote::segmentation {
namespace {

constexpr double kLeastFill = 0.955;  // of a simple shape; corners folded over or torn off take more, and get sides of their own

std::vector<cv::Point> rounded(const Shape& shape, const cv::Point2d& from, double zoom) {
  std::vector<cv::Point> out;
  for (const cv::Point2d& p : shape) out.emplace_back(cvRound((p.x - from.x) * zoom), cvRound((p.y - from.y) * zoom));
  return out;
}

// Intersection over union of the polygon and what the contour encloses, both drawn `kZoom` times as large.
double agreement(const Shape& shape, const std::vector<cv::Point>& contour) {
  constexpr double kZoom = 2;
  cv::Rect box = cv::boundingRect(contour) | cv::boundingRect(std::vector<cv::Point2f>(shape.begin(), shape.end()));
  cv::Mat one = cv::Mat::zeros(box.size() * int(kZoom) + cv::Size(2, 2), CV_8U), other = one.clone();
  cv::fillPoly(one, std::vector{rounded(shape, box.tl(), kZoom)}, cv::Scalar(255));
  std::vector<cv::Point> rim;
  for (const cv::Point& p : contour) rim.push_back((p - box.tl()) * int(kZoom) + cv::Point(1, 1));
  cv::fillPoly(other, std::vector{rim}, cv::Scalar(255));
  // A contour runs through the middles of its pixels.
  cv::dilate(other, other, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  return static_cast<double>(cv::countNonZero(one & other)) / std::max(1, cv::countNonZero(one | other));
}

Shape clockwise(Shape shape) {
  double twice = 0;
  for (std::size_t i = 0; i < shape.size(); ++i) twice += shape[i].cross(shape[(i + 1) % shape.size()]);
  if (twice < 0) std::reverse(shape.begin(), shape.end());
  return shape;
}

// Each side laid through the rim's pixels near it, half a pixel outwards of their middles.
Shape along_rim(const Shape& shape, const std::vector<cv::Point>& contour) {
  constexpr double kNear_px = 2.5;
  const std::size_t n = shape.size();
  std::vector<image::Line> sides;
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d a = shape[i], d = shape[(i + 1) % n] - a;
    const double length = std::max(cv::norm(d), 1e-9);
    const cv::Point2d along = d / length, out(along.y, -along.x);
    std::vector<cv::Point2f> near;
    for (const cv::Point& p : contour) {
      const cv::Point2d q = cv::Point2d(p) + cv::Point2d(0.5, 0.5) + 0.5 * out - a;
      if (q.dot(along) > 0.1 * length && q.dot(along) < 0.9 * length && std::abs(q.dot(out)) < kNear_px) near.emplace_back(q + a);
    }
    image::Line side{a, along};
    if (near.size() >= 6 && static_cast<double>(near.size()) > 0.5 * length) {
      cv::Vec4f line;
      cv::fitLine(near, line, cv::DIST_HUBER, 0, 0.01, 0.01);
      const cv::Point2d direction(line[0], line[1]);
      side = {{line[2], line[3]}, direction.dot(along) < 0 ? -direction : direction};
    }
    sides.push_back(side);
  }
  Shape placed;
  for (std::size_t i = 0; i < n; ++i) {
    const auto corner = image::crossing(sides[(i + n - 1) % n], sides[i]);
    const bool near = corner && std::hypot(corner->x - shape[i].x, corner->y - shape[i].y) < 3 * kNear_px;
    placed.push_back(near ? cv::Point2d(corner->x, corner->y) : shape[i]);
  }
  return placed;
}

}  // namespace

Outline outline_of(const Instance& instance) {
  Outline outline;
  std::vector<cv::Point> hull;
  cv::convexHull(instance.contour, hull, true);
  if (hull.size() < 3) return outline;
  const Shape convex = clockwise(Shape(hull.begin(), hull.end()));
  for (const std::size_t sides : {3U, 4U, 5U, 6U}) {
    auto shape = around(convex, sides);
    if (!shape || shape->size() < 3) continue;
    for (cv::Point2d& p : *shape) p += cv::Point2d(0.5, 0.5);
    *shape = along_rim(*shape, instance.contour);
    if (!is_convex(*shape)) continue;
    const double fill = agreement(*shape, instance.contour);
    // More sides must earn their keep.
    if (fill > outline.fill + 0.02) outline.corners = *shape, outline.fill = fill;
    if (outline.fill >= kLeastFill) break;
  }
  if (outline.fill < kLeastFill) {
    std::vector<cv::Point> corners;
    cv::approxPolyDP(instance.contour, corners, std::max(1.2, 0.02 * std::sqrt(instance.area_px)), true);
    if (corners.size() >= 3) {
      Shape free = clockwise(Shape(corners.begin(), corners.end()));
      for (cv::Point2d& p : free) p += cv::Point2d(0.5, 0.5);
      free = along_rim(free, instance.contour);
      const double fill = agreement(free, instance.contour);
      if (fill > outline.fill + 0.01) outline.corners = std::move(free), outline.fill = fill;
    }
  }
  for (std::size_t i = 0; i < outline.corners.size(); ++i) {
    const cv::Point2d a = outline.corners[i], d = outline.corners[(i + 1) % outline.corners.size()] - a;
    const cv::Point2d inwards = cv::Point2d(-d.y, d.x) / std::max(cv::norm(d), 1e-9);
    int on = 0, of = 0;
    for (double t = 0.15; t < 0.86; t += 0.05, ++of) {
      const cv::Point p(cvFloor(a.x + t * d.x + 1.5 * inwards.x) - instance.box.x, cvFloor(a.y + t * d.y + 1.5 * inwards.y) - instance.box.y);
      on += cv::Rect(cv::Point(), instance.covered.size()).contains(p) && instance.covered.at<uchar>(p) != 0;
    }
    outline.own.push_back(2 * on < of);
  }
  return outline;
}

Shape completed(const Shape& seen, const std::vector<bool>& own, const cv::Point2d& full_middle) {
  const std::size_t n = seen.size();
  double around_px = 0;
  for (std::size_t i = 0; i < n; ++i) around_px += cv::norm(seen[(i + 1) % n] - seen[i]);
  struct Side {
    image::Line line;
    double length = 0;
    bool hidden_before = false;  // something hid what lies between the side before and this one
  };
  std::vector<Side> sides;
  bool hidden = false;
  // Bits of sides beside what hides them point anywhere.
  constexpr double kLeastSide = 0.05;  // of the way round
  const std::size_t first = static_cast<std::size_t>(std::find(own.begin(), own.end(), false) - own.begin());
  if (first == n) return {};
  for (std::size_t k = 0; k < n; ++k) {
    const std::size_t i = (first + k) % n;
    const cv::Point2d d = seen[(i + 1) % n] - seen[i];
    const double length = cv::norm(d);
    const bool beside_hidden = !own[(i + n - 1) % n] || !own[(i + 1) % n];
    if (!own[i] || (beside_hidden && length < kLeastSide * around_px)) {
      hidden = true;
      continue;
    }
    sides.push_back({{seen[i], d / std::max(length, 1e-9)}, length, hidden});
    hidden = false;
  }
  if (sides.size() < 2) return {};
  sides.front().hidden_before = true;

  Shape whole;
  for (std::size_t i = 0; i < sides.size(); ++i) {
    const Side& before = sides[(i + sides.size() - 1) % sides.size()];
    const Side& after = sides[i];
    const auto corner = image::crossing(before.line, after.line);
    const double turn = before.line.along.cross(after.line.along);
    if (corner && (!after.hidden_before || turn > 0.25)) {  // clockwise with y down: a corner turns right
      whole.emplace_back(corner->x, corner->y);
      continue;
    }
    // Parallel sides: a side seen opposite, turned about the middle, closes them.
    const auto opposite = std::max_element(sides.begin(), sides.end(), [&](const Side& a, const Side& b) {
      const auto across = [&](const Side& s) { return s.length * std::abs(s.line.along.cross(before.line.along)); };
      return across(a) < across(b);
    });
    const image::Line closing{2 * full_middle - opposite->line.at, -opposite->line.along};
    const auto one = image::crossing(before.line, closing), other = image::crossing(closing, after.line);
    if (!one || !other) return {};
    whole.emplace_back(one->x, one->y);
    whole.emplace_back(other->x, other->y);
  }
  constexpr double kMostHidden = 4;  // times what is seen: more is guessing
  if (whole.size() < 3 || !is_convex(whole) || area_of(whole) > kMostHidden * area_of(seen)) return {};
  return overlap_area(seen, whole) > 0.9 * area_of(seen) ? whole : Shape{};
}

Shape without_lost_corners(const Shape& corners, const Instance& instance) {
  constexpr double kStep_px = 0.25, kBeside_px = 1.25;
  constexpr int kInARow = 6;            // steps with paper beside the side: from there on it is one
  constexpr double kFarthest = 0.45;    // of the side
  constexpr double kLeast_px = 1.5;     // along each side
  constexpr double kLeastArea_px = 8;   // of the lost corner
  constexpr int kZoom = 2;
  const cv::Rect box = cv::boundingRect(instance.contour);
  cv::Mat paper = cv::Mat::zeros((box.size() + cv::Size(4, 4)) * kZoom, CV_8U);
  std::vector<cv::Point> rim;
  for (const cv::Point& p : instance.contour) rim.push_back((p - box.tl() + cv::Point(2, 2)) * kZoom + cv::Point(1, 1));
  cv::fillPoly(paper, std::vector{rim}, cv::Scalar(255));
  cv::dilate(paper, paper, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));  // a contour runs through the middles of its pixels
  const auto is_paper = [&](const cv::Point2d& at) {
    const cv::Point p(cvFloor((at.x - box.x + 2) * kZoom), cvFloor((at.y - box.y + 2) * kZoom));
    return cv::Rect(cv::Point(), paper.size()).contains(p) && paper.at<uchar>(p) != 0;
  };
  // How far from the corner the paper beside the side begins; nothing when it does not.
  const auto begins = [&](const cv::Point2d& corner, const cv::Point2d& along, double length, const cv::Point2d& inwards) -> std::optional<double> {
    int in_a_row = 0;
    for (double d = 0; d < kFarthest * length; d += kStep_px) {
      in_a_row = is_paper(corner + d * along + kBeside_px * inwards) ? in_a_row + 1 : 0;
      if (in_a_row == kInARow) return std::max(0.0, d - (kInARow - 1) * kStep_px);
    }
    return std::nullopt;
  };
  Shape left;
  const std::size_t n = corners.size();
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d& corner = corners[i];
    const cv::Point2d back = corners[(i + n - 1) % n] - corner, on = corners[(i + 1) % n] - corner;
    const double before = std::max(cv::norm(back), 1e-9), after = std::max(cv::norm(on), 1e-9);
    const cv::Point2d u = back / before, v = on / after;
    // Clockwise with y down: the inside lies to the right of each side.
    const auto a = begins(corner, u, before, {u.y, -u.x}), b = begins(corner, v, after, {-v.y, v.x});
    bool lost = a && b && std::min(*a, *b) > kLeast_px && *a * *b * std::abs(u.cross(v)) / 2 > kLeastArea_px;
    if (lost) {
      const cv::Point2d middle = corner + (*a * u + *b * v) / 2;
      lost = !is_paper((2 * middle + corner) / 3) && !is_paper((middle + 2 * corner) / 3);
    }
    if (!lost) {
      left.push_back(corner);
      continue;
    }
    left.push_back(corner + *a * u);
    left.push_back(corner + *b * v);
  }
  return left;
}

}  // namespace papillote::segmentation
