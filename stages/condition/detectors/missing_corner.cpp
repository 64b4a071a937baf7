// A corner that is gone: where two sides of the envelope would meet, a short ragged edge cuts across.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::missing_corner, 1)) {
    Sign sign = sign_of(mark, 0.73, 0.34);
    sign.severity = severity_of(mark.width, 7, 11, 16.5);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("corner gone, {:.0f} mm across", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

// The slanted ends of an open flap look the same.
extern const Detector missing_corner{"missing_corner", 9, look, {"open_flap"}};

}  // namespace papillote::condition::detectors
