// Mould: colonies of soft grey, greenish, dark or pale spots, some of them running into each other.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::mould, 3)) {
    Sign sign = sign_of(mark, 0.75, 0.53);
    sign.severity = severity_of(mark.radius, 6, 9.5, 15);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("looks like mould, over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector mould{"mould", 8, look};

}  // namespace papillote::condition::detectors
