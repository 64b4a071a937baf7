// Random textures.
#pragma once
#include <opencv2/core.hpp>

#include "random.h"

namespace papillote::samples {

// A field of smooth noise with zero mean and unit deviation (CV_32F); grain_px is the size of its patches.
cv::Mat noise(cv::Size size, double grain_px, Random& random);
// Noise with different grain along x and y: wood, fibres, brushed cloth.
cv::Mat streaky_noise(cv::Size size, double grain_x_px, double grain_y_px, Random& random);

}  // namespace papillote::samples
