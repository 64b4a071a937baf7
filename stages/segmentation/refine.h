// From working pixels to the photograph: sides placed on edges at sub-pixel accuracy.
#pragma once

#include <array>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::segmentation {

// Moves each side of the polygon (clockwise, photograph pixels) to the edge found within `reach_px`, in the colour
// channel in which the envelope differs most from what is around it. A side that is short or without a clear edge stays,
// and so does a convex polygon that would cease to be convex.
[[nodiscard]] Polygon refined(const std::array<cv::Mat, 3>& channels, const Polygon& polygon_px, double reach_px);

}  // namespace papillote::segmentation
