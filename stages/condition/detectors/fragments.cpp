// Loose parts beside the envelope: pieces of wings, legs, antennae.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::fragments, 4)) {
    Sign sign = sign_of(mark, 1.07, 0.60);
    sign.severity = severity_of(mark.length, 9, 18, 32);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("loose pieces over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector fragments{"fragments", 9, look};

}  // namespace papillote::condition::detectors
