// The capture card's ArUco markers: square black frames with a code of 4 x 4 cells, dictionary 4x4_50, ids 0 to 3.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::calibration {

struct Marker {
  int id = 0;
  Quad corners_px{};  // of the black square; first = upper left of the upright marker
};

// Every marker in the picture (CV_8UC1), turned and foreshortened as it may be. Works on a reduced picture to find
// squares, on the full one to read the code and to place the corners on the crossings of fitted edges.
[[nodiscard]] std::vector<Marker> find_markers(const cv::Mat& grey);

}  // namespace papillote::calibration
