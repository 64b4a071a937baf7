// How much each pixel differs from the table that the envelopes lie on.
#pragma once

#include <opencv2/core.hpp>

namespace papillote::segmentation {

// CV_32F, in units of the table's own spread (1 = one standard deviation of the table).
struct Difference {
  cv::Mat any;        // in lightness or colour
  cv::Mat no_shadow;  // what mere darkening of the table explains is left out, so soft shadows vanish (grey paper on a
                      // lighter grey table too: look at both)
  cv::Mat lab;        // CV_32FC3: colour minus the table's at that place, CIE L*a*b*
};

// The table is what the rim of the picture mostly shows: its colour may change smoothly across the picture (a second
// order surface in CIE L*a*b*), its grain sets the unit. `bgr` is CV_8UC3 of working size; pixels where `ignore` is not
// zero (the capture card) do not take part.
// `smooth_px` is the Gaussian that the picture is looked at through: a wide one blurs outlines, and shows paper that
// differs from the table by less than the grain of either.
[[nodiscard]] Difference difference_from_table(const cv::Mat& bgr, const cv::Mat& ignore, double smooth_px);

}  // namespace papillote::segmentation
