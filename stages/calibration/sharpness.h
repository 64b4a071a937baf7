// How sharp a photograph is, from its edges.
//
// Measured is the 10-90 % rise: the distance over which an edge climbs from a tenth to nine tenths of its step, in linear
// light. A Gaussian blur of sigma s px has a rise of 2.5631 s (derived).
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::calibration {

// Rise of one straight edge a-b with even fields of `reach_px` on both sides. `grey` is CV_8UC1. The pixels are sorted
// by their distance from the fitted edge into bins of a quarter pixel (as in ISO 12233, from memory), so the edge should
// not run exactly along a row or column. Nothing when there is no edge.
[[nodiscard]] std::optional<double> edge_rise_px(const cv::Mat& grey, const Point& a, const Point& b, double reach_px);

// Without a known edge: rise of the sharper fifth of the strong edges all over the picture, each from its greatest slope
// and its step as if its blur were Gaussian. 0 when there are too few edges to tell. Edges are looked for in a picture reduced
// to `search_side_px`, then measured at full size.
[[nodiscard]] double sharper_rise_px(const cv::Mat& grey, double search_side_px = 2000);

}  // namespace papillote::calibration
