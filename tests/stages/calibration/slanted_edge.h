// Edges of known blur, drawn for tests.
#pragma once

#include <cmath>

#include <opencv2/core.hpp>

namespace papillote::calibration::draw {

inline double srgb(double linear) { return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055; }

// Edge at `tilt_deg` from upright through the middle; the light climbs as a Gaussian of `sigma_px`, looked at through
// square pixels (`aperture`) or at their centres.
inline cv::Mat slanted_edge(double sigma_px, bool aperture, double tilt_deg) {
  cv::Mat grey(200, 160, CV_8UC1);
  const double c = std::cos(tilt_deg * CV_PI / 180);
  const double s = std::sin(tilt_deg * CV_PI / 180);
  const int finer = aperture ? 12 : 1;
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x) {
      double light = 0;
      for (int i = 0; i < finer; ++i)
        for (int j = 0; j < finer; ++j) {
          const double d = (x + (i + 0.5) / finer - 80) * c + (y + (j + 0.5) / finer - 100) * s;
          light += sigma_px > 0 ? 0.5 * std::erfc(-d / (sigma_px * std::sqrt(2.0))) : (d > 0 ? 1.0 : 0.0);
        }
      grey.at<uchar>(y, x) = cv::saturate_cast<uchar>(255 * srgb(0.05 + 0.75 * light / (finer * finer)));
    }
  return grey;
}

}  // namespace papillote::calibration::draw
