// Foxing: scattered rust-brown spots of a fraction of a millimetre to a few millimetres with soft rims.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::foxing, 4)) {
    Sign sign = sign_of(mark, 0.45, 0.25);
    sign.severity = severity_of(mark.radius, 10, 16, 24);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("brown spots over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector foxing{"foxing", 9, look};

}  // namespace papillote::condition::detectors
