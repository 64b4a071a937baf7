// A corner that is gone: a gap at a corner of the envelope's whole shape.
#include <cmath>

#include <fmt/format.h>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  std::vector<Sign> signs;
  for (const Region& gap : gaps_at_edge(view)) {
    if (!is_corner_gap(view, gap) || gap.area_px < 6 * unit * unit) continue;
    const double side = std::sqrt(gap.area_px);
    Sign sign;
    sign.region = polygon_of(gap.contour, 1);
    sign.confidence = confidence_of(side / unit, 3.5, 0.8);
    sign.severity = severity_of(side / unit, 5, 9, 15);
    if (view.px_per_mm) {
      sign.size_mm = gap.length_px / *view.px_per_mm;
      sign.words = fmt::format("corner gone, {:.0f} mm across", *sign.size_mm);
    }
    if (sign.confidence > 0.25) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector missing_corner{"missing_corner", 1, look};

}  // namespace papillote::condition::detectors
