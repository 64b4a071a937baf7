// Grease from the body: a patch that makes the paper darker and glassy, without a tide line.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::grease, 2)) {
    Sign sign = sign_of(mark, 0.90, 0.37);
    sign.severity = severity_of(mark.radius, 8, 12, 18);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("grease over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector grease{"grease", 7, look};

}  // namespace papillote::condition::detectors
