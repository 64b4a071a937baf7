// Private to this room: linear light of sRGB values (IEC 61966-2-1).
#pragma once

#include <array>
#include <cmath>

namespace papillote::calibration {

// Both 0..1.
[[nodiscard]] inline double linear_light(double srgb) { return srgb <= 0.04045 ? srgb / 12.92 : std::pow((srgb + 0.055) / 1.055, 2.4); }

// Of each 8-bit level.
[[nodiscard]] const std::array<double, 256>& linear_levels();

}  // namespace papillote::calibration
