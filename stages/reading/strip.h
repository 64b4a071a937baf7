// One line as the readers want it: cut straight out of the photograph, grey, its neighbours masked.
#pragma once

#include <opencv2/core.hpp>

#include "pipeline/image/image.h"
#include "pipeline/record/text.h"

namespace papillote::reading {

// Dark ink on light paper, CV_8UC1, `height_px` high. What lies outside the line's polygon (with a margin for strokes that
// reach over it) is filled with the paper's tone. `upside_down` cuts it turned by half a turn.
[[nodiscard]] cv::Mat cut_strip(const image::Image& photo, const TextLine& line, int height_px, bool upside_down = false);

// The same line, read from the other end.
[[nodiscard]] TextLine turned_half(const TextLine& line);

// Grey of a free-standing line picture (1 or 3 channels); light writing on a dark ground is inverted.
[[nodiscard]] cv::Mat grey_line(const cv::Mat& picture);

// Evens out the paper's tone and shadows: paper 255, ink as dark as it is against the paper around it.
[[nodiscard]] cv::Mat flattened(const cv::Mat& grey);

}  // namespace papillote::reading
