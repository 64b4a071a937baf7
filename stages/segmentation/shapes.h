// The shapes envelopes have. Polygons run clockwise as seen.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

namespace papillote::segmentation {

using Shape = std::vector<cv::Point2d>;

[[nodiscard]] double area_of(const Shape& shape);
[[nodiscard]] double overlap_area(const Shape& one, const Shape& convex);
[[nodiscard]] bool contains(const Shape& shape, const cv::Point2d& p);

// Whether the corners run clockwise round a convex shape; what crosses itself or turns inwards does not.
[[nodiscard]] bool is_convex(const Shape& shape);

// The polygon of `sides` sides around the convex outline that adds least area, by dropping one side after another and
// prolonging its neighbours. Nothing when that cannot be done without running off to infinity.
[[nodiscard]] std::optional<Shape> around(const Shape& convex, std::size_t sides);

// "triangle", "rectangle", "trapezoid" or "polygon".
[[nodiscard]] std::string name_of(const Shape& shape);

// Corners of the smallest rectangle around the shape that has a side along one of the shape's own; for a triangle the
// longest side is the lower edge. First = upper left, clockwise.
[[nodiscard]] std::vector<cv::Point2d> frame_of(const Shape& shape);

}  // namespace papillote::segmentation
