#include "geometry.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace papillote::samples {

Point turned(Point p, double deg) {
  const double a = deg * std::numbers::pi / 180.0;
  return {p.x * std::cos(a) - p.y * std::sin(a), p.x * std::sin(a) + p.y * std::cos(a)};
}

Polygon turned(const Polygon& polygon, double deg) {
  Polygon out;
  out.reserve(polygon.size());
  for (const Point& p : polygon) out.push_back(turned(p, deg));
  return out;
}

Polygon moved(const Polygon& polygon, Point by) {
  Polygon out = polygon;
  for (Point& p : out) p += by;
  return out;
}

Polygon mirrored(const Polygon& polygon) {
  Polygon out(polygon.rbegin(), polygon.rend());
  for (Point& p : out) p.x = -p.x;
  return out;
}

Bounds bounds(const Polygon& polygon) {
  Bounds b{1e18, 1e18, -1e18, -1e18};
  for (const Point& p : polygon) {
    b.left = std::min(b.left, p.x);
    b.right = std::max(b.right, p.x);
    b.top = std::min(b.top, p.y);
    b.bottom = std::max(b.bottom, p.y);
  }
  return b;
}

static double signed_area(const Polygon& polygon) {
  double sum = 0.0;
  for (std::size_t i = 0; i < polygon.size(); ++i) sum += polygon[i].cross(polygon[(i + 1) % polygon.size()]);
  return sum / 2;
}

double area(const Polygon& polygon) { return std::abs(signed_area(polygon)); }

Point centroid(const Polygon& polygon) {
  Point sum{0, 0};
  double weight = 0.0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[(i + 1) % polygon.size()];
    const double w = a.cross(b);
    sum += (a + b) * w;
    weight += w;
  }
  return std::abs(weight) < 1e-12 ? polygon.front() : sum * (1.0 / (3.0 * weight));
}

Polygon rectangle(double left, double top, double right, double bottom) {
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}

Polygon circle(Point centre, double radius, int corners) {
  Polygon out;
  for (int i = 0; i < corners; ++i) out.push_back(centre + turned(Point{radius, 0}, 360.0 * i / corners));
  return out;
}

double length(Point p) { return std::hypot(p.x, p.y); }

Point unit(Point p) {
  const double l = length(p);
  return l > 0 ? p * (1.0 / l) : Point{1, 0};
}

Polygon grown(const Polygon& convex, double distance) {
  const double sign = signed_area(convex) > 0 ? 1.0 : -1.0;
  const std::size_t n = convex.size();
  Polygon out;
  for (std::size_t i = 0; i < n; ++i) {
    const Point before = unit(convex[i] - convex[(i + n - 1) % n]);
    const Point after = unit(convex[(i + 1) % n] - convex[i]);
    const Point normal_before{before.y * sign, -before.x * sign};
    const Point normal_after{after.y * sign, -after.x * sign};
    const Point middle = unit(normal_before + normal_after);
    const double cosine = std::max(0.25, middle.dot(normal_after));
    out.push_back(convex[i] + middle * (distance / cosine));
  }
  return out;
}

Polygon clipped(const Polygon& subject, const Polygon& convex) {
  const double sign = signed_area(convex) > 0 ? 1.0 : -1.0;
  Polygon out = subject;
  for (std::size_t e = 0; e < convex.size() && !out.empty(); ++e) {
    const Point a = convex[e];
    const Point edge = convex[(e + 1) % convex.size()] - a;
    const auto inside = [&](Point p) { return sign * edge.cross(p - a); };
    Polygon kept;
    for (std::size_t i = 0; i < out.size(); ++i) {
      const Point p = out[i];
      const Point q = out[(i + 1) % out.size()];
      const double dp = inside(p);
      const double dq = inside(q);
      if (dp >= 0) kept.push_back(p);
      if ((dp >= 0) != (dq >= 0)) kept.push_back(p + (q - p) * (dp / (dp - dq)));
    }
    out = std::move(kept);
  }
  return out;
}

Polygon convex_hull(const Polygon& points) {
  std::vector<cv::Point2f> in;
  std::vector<cv::Point2f> hull;
  for (const Point& p : points) in.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  cv::convexHull(in, hull);
  Polygon out;
  for (const cv::Point2f& p : hull) out.emplace_back(p.x, p.y);
  return out;
}

bool contains(const Polygon& polygon, Point p) {
  bool in = false;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
    const Point& a = polygon[i];
    const Point& b = polygon[j];
    if ((a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x) in = !in;
  }
  return in;
}

std::pair<double, double> span_at(const Polygon& polygon, double y) {
  double left = 1e18;
  double right = -1e18;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[(i + 1) % polygon.size()];
    if ((a.y > y) == (b.y > y)) continue;
    const double x = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
    left = std::min(left, x);
    right = std::max(right, x);
  }
  return {left, right};
}

}  // namespace papillote::samples
