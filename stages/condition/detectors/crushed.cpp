// Crushed: paper creased in many directions. The straight folds that every envelope has are no damage.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::crushed, 3)) {
    Sign sign = sign_of(mark, 0.45, 0.23);
    sign.severity = severity_of(mark.radius, 12, 17, 24);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("crushed over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector crushed{"crushed", 7, look};

}  // namespace papillote::condition::detectors
