// Rust from a pin, a staple or a clip: metal or its print with a brown halo.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::rust, 2)) {
    Sign sign = sign_of(mark, 1.00, 0.27);
    // How wide the halo is hardly shows beside the metal; how much paper is stained does.
    sign.severity = mark.area < 20 ? 1 : mark.area < 130 ? 2 : 3;
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("rust {:.0f} mm long", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector rust{"rust", 7, look};

}  // namespace papillote::condition::detectors
