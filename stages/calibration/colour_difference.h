// Colours as the eye tells them apart: CIE 1976 L*a*b* and the difference CIEDE2000.
#pragma once

#include <array>

namespace papillote::calibration {

struct Lab {
  double lightness = 0;  // L*, 0..100
  double a = 0;
  double b = 0;
};

// Light of sRGB's primaries, 0..1, to L*a*b* under D50 (IEC 61966-2-1; adapted by Bradford's matrix as in ICC.1:2010, annex E).
[[nodiscard]] Lab lab_of_linear_rgb(const std::array<double, 3>& rgb);

enum class LightnessWeight {
  standard,  // CIE 142:2001
  one,       // S_L = 1, as the Metamorfoze guidelines take it
};
// Sharma, Wu & Dalal, The CIEDE2000 color-difference formula, Color Research and Application 30 (2005).
[[nodiscard]] double ciede2000(const Lab& one, const Lab& other, LightnessWeight = LightnessWeight::standard);

}  // namespace papillote::calibration
