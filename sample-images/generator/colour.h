// Reflectance: three channels blue, green, red, linear in light, 0 black to 1 white, as OpenCV floats.
#pragma once
#include <cmath>
#include <opencv2/core.hpp>

namespace papillote::samples {

inline float linear_from_srgb(double value255) {
  const double v = value255 / 255.0;
  return static_cast<float>(v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4));
}
// From the usual 0xRRGGBB writing.
inline cv::Vec3f reflectance(unsigned rgb) {
  return {linear_from_srgb(rgb & 255U), linear_from_srgb((rgb >> 8) & 255U), linear_from_srgb((rgb >> 16) & 255U)};
}

// Rec. 709.
inline double luminance(cv::Vec3f colour) { return 0.0722 * colour[0] + 0.7152 * colour[1] + 0.2126 * colour[2]; }

}  // namespace papillote::samples
