// Adhesive tape.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::tape, 1.5)) {
    Sign sign = sign_of(mark, 0.88, 0.33);
    sign.severity = severity_of(mark.area / 13, 8, 14, 21);  // strips are about 13 mm wide: how far it reaches
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("strip of {:.0f} x {:.0f} mm", mark.length, mark.width);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector tape{"tape", 9, look};

}  // namespace papillote::condition::detectors
