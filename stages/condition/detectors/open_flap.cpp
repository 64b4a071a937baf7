// An open flap or burst seam: paper that stands away from the folded shape.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::open_flap, 2)) {
    Sign sign = sign_of(mark, 1.27, 0.36);
    sign.severity = severity_of(mark.width, 8, 12, 17);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("open over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector open_flap{"open_flap", 7, look};

}  // namespace papillote::condition::detectors
