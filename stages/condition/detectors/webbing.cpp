// Webbing and cast skins of insects that fed here.
#include <fmt/format.h>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::webbing, 2.5)) {
    Sign sign = sign_of(mark, 0.76, 0.25);
    sign.severity = severity_of(mark.radius, 7, 11, 17);
    if (view.px_per_mm) {
      sign.size_mm = mark.length;
      sign.words = fmt::format("webbing over {:.0f} mm", mark.length);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector webbing{"webbing", 7, look};

}  // namespace papillote::condition::detectors
