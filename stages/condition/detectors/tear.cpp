// Tears: a gap from the edge into the paper.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::tear, 1)) {
    Sign sign = sign_of(mark, 1.57, 0.75);
    sign.severity = severity_of(mark.length, 8, 13, 21);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("torn {:.0f} mm into the paper", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

// The edge of a missing corner is torn, and what crosses the paper's edge looks like a tear.
extern const Detector tear{"tear", 9, look, {"missing_corner", "rust", "webbing"}};

}  // namespace papillote::condition::detectors
