// How an envelope looks from afar: enough to know it again in another photograph, too little to be shown.
#pragma once

#include <array>
#include <string>

namespace papillote {

// In the frame of the crop as the outline gave it, before the text said what is upright.
struct Portrait {
  int width = 0, height = 0;      // cells; the longer side has 64; 0 = none was made
  std::string marks;              // a hexadecimal digit a cell, row by row: 8 as light as the paper around it, less is darker
  std::array<double, 3> paper{};  // its usual colour, CIE L*a*b* (D65), after the photograph's grey balance
  double filled = 0;              // share of the crop that the outline fills

  bool operator==(const Portrait&) const = default;
};

}  // namespace papillote
