// Wings with a part gone, where glassine lets them be seen.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::broken_wings, 1)) {
    Sign sign = sign_of(mark, 0.48, 0.28);
    sign.severity = severity_of(mark.radius, 7, 13, 20);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("wing broken, {:.0f} mm of it gone", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector broken_wings{"broken_wings", 4, look};

}  // namespace papillote::condition::detectors
