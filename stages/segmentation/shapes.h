// The shapes envelopes have, fitted to outlines. Polygons are convex, clockwise as seen, in working pixels.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

namespace papillote::segmentation {

using Shape = std::vector<cv::Point2d>;

[[nodiscard]] double area_of(const Shape& shape);
[[nodiscard]] double overlap_area(const Shape& one, const Shape& other);
[[nodiscard]] bool contains(const Shape& shape, const cv::Point2d& p);

// Whether the corners run clockwise round a convex shape; what crosses itself or turns inwards does not.
[[nodiscard]] bool is_convex(const Shape& shape);

// The polygon of `sides` sides around the convex outline that adds least area, by dropping one side after another and
// prolonging its neighbours. Nothing when that cannot be done without running off to infinity.
[[nodiscard]] std::optional<Shape> around(const Shape& convex, std::size_t sides);

// Side i (corner i to i + 1) moved outwards by moves[i]; the shape itself where that leaves no convex polygon.
[[nodiscard]] Shape with_sides_moved(const Shape& shape, const std::vector<double>& moves);

struct SingleFit {
  Shape shape;
  double fill = 0;  // share of the shape that the outline fills, 0..1
};

// The simplest of triangle, four- and five-sided polygon that the outline of one envelope fills. Nothing when the
// outline is no single convex shape.
[[nodiscard]] std::optional<SingleFit> fit_single(const std::vector<cv::Point>& contour, double least_fill);

// "triangle", "rectangle", "trapezoid" or "polygon".
[[nodiscard]] std::string name_of(const Shape& shape);

// Corners of the smallest rectangle around the shape that has a side along one of the shape's own; for a triangle the
// longest side is the lower edge. First = upper left, clockwise.
[[nodiscard]] std::vector<cv::Point2d> frame_of(const Shape& shape);

}  // namespace papillote::segmentation
