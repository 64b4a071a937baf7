// Straight edges at sub-pixel accuracy. Coordinates as in records: origin at the outer corner of the first pixel.
#pragma once

#include <optional>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::image {

// A line through `at` along the unit vector `along`.
struct Line {
  cv::Point2d at;
  cv::Point2d along;
};

struct EdgeFit {
  Line line;
  double support = 0;      // share of the profiles across the edge that agree with the line, 0..1
  double residual_px = 0;  // standard deviation of those about the line
  double contrast = 0;     // mean grey level on the left of a -> b minus that on the right, close to the edge
};

enum class Polarity { either, bright_left };  // "left" as seen from a to b with y down: the side of (dy, -dx)

// Fits a line to the places of steepest grey along profiles across the segment a-b, each searched `reach_px` to both
// sides. Ends (a tenth of the length each) are left out: corners are round. Nothing when fewer than half the profiles
// agree. `grey` is CV_8UC1.
[[nodiscard]] std::optional<EdgeFit> fit_edge(const cv::Mat& grey, const Point& a, const Point& b, double reach_px,
                                              Polarity polarity);

// Where two lines cross; nothing when they are nearly parallel (under 5 degrees).
[[nodiscard]] std::optional<Point> crossing(const Line& one, const Line& other);

}  // namespace papillote::image
