// Frass: dust and pellets of feeding insects, many small grains in a heap, on the paper or beside it.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::frass, 2.5)) {
    Sign sign = sign_of(mark, 1.07, 0.29);
    sign.severity = severity_of(mark.radius, 4.2, 6.8, 10.5);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("grains together over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector frass{"frass", 9, look};

}  // namespace papillote::condition::detectors
