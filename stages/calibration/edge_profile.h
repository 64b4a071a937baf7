// Private to this room: the light across a straight edge, sampled finer than the pixels.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "pipeline/image/edge.h"
#include "pipeline/record/geometry.h"

namespace papillote::calibration {

inline constexpr double kProfileBin_px = 0.25;

// Sums of linear light and numbers of pixels, by distance from the edge: bin i begins at i * kProfileBin_px - reach_px.
struct EdgeProfile {
  std::vector<double> sum;
  std::vector<double> count;
};

// Along the middle 70 % of a to b, clear of the corners. `grey` is CV_8U.
[[nodiscard]] EdgeProfile edge_profile(const cv::Mat& grey, const image::Line& line, const Point& a, const Point& b, double reach_px);

}  // namespace papillote::calibration
