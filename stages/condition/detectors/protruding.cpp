// Wings, legs and antennae that stick out of the paper.
#include <algorithm>

#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::protruding, 1.5)) {
    Sign sign = sign_of(mark, 0.39, 0.48);
    const double out = std::max(mark.reach, 0.5 * mark.width);
    sign.severity = severity_of(out, 3.5, 6.5, 11);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("sticks out {:.0f} mm", out);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector protruding{"protruding", 9, look};

}  // namespace papillote::condition::detectors
