// Plane geometry in millimetres or pixels: x right, y down, angles clockwise as seen.
#pragma once
#include <opencv2/core.hpp>
#include <utility>
#include <vector>

namespace papillote::samples {

using Point = cv::Point2d;
using Polygon = std::vector<Point>;

struct Bounds {
  double left, top, right, bottom;
  double width() const { return right - left; }
  double height() const { return bottom - top; }
  Point middle() const { return {(left + right) / 2, (top + bottom) / 2}; }
};

Point turned(Point p, double deg);
Polygon turned(const Polygon& polygon, double deg);
Polygon moved(const Polygon& polygon, Point by);
Polygon mirrored(const Polygon& polygon);  // left and right exchanged about x = 0
Bounds bounds(const Polygon& polygon);
double area(const Polygon& polygon);
Point centroid(const Polygon& polygon);
Polygon rectangle(double left, double top, double right, double bottom);
Polygon circle(Point centre, double radius, int corners = 20);
// Grows a convex polygon outwards by the distance (inwards when negative).
Polygon grown(const Polygon& convex, double distance);
// The part of the subject within the convex clip (Sutherland and Hodgman 1974).
Polygon clipped(const Polygon& subject, const Polygon& convex);
Polygon convex_hull(const Polygon& points);
bool contains(const Polygon& polygon, Point p);
// Where the horizontal line y crosses the polygon: leftmost and rightmost x; first > second when it misses.
std::pair<double, double> span_at(const Polygon& polygon, double y);
double length(Point p);
Point unit(Point p);

}  // namespace papillote::samples
