// Tide lines and stains of old damp.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::water_stain, 2)) {
    Sign sign = sign_of(mark, 1.61, 0.30);
    sign.severity = severity_of(mark.radius, 9, 14, 21);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("stain {:.0f} mm across", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector water_stain{"water_stain", 9, look};

}  // namespace papillote::condition::detectors
