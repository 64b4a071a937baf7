#include "stages/calibration/linear_light.h"

namespace papillote::calibration {

const std::array<double, 256>& linear_levels() {
  static const std::array<double, 256> table = [] {
    std::array<double, 256> t{};
    for (std::size_t i = 0; i < t.size(); ++i) t[i] = linear_light(static_cast<double>(i) / 255);
    return t;
  }();
  return table;
}

}  // namespace papillote::calibration
