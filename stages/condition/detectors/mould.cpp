// Mould: a colony of soft grey to greenish or dark spots, some of them running into each other. Grey stains take all colours alike; brown
// spots are foxing.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  std::vector<Spot> grey;
  for (Spot& spot : spots_on(view, bare_paper(view, 0.8 * unit), 0.12, 0.5, 26.0, 0.4)) {
    if (spot.brownness > 1.25 || spot.brownness < 0.6) continue;
    // Ink and grains have sharp rims.
    if (rim_sharpness(view, spot.region) > 0.26) continue;
    grey.push_back(std::move(spot));
  }
  std::vector<Sign> signs;
  for (const std::vector<Spot>& group : grouped(view, grey, 9 * unit, 1)) {
    double area = 0;
    double strength = 0;
    for (const Spot& spot : group) {
      area += spot.region.area_px / (unit * unit);
      strength = std::max(strength, static_cast<double>(spot.density[1]));
    }
    if (area < 2.5) continue;
    const double count = static_cast<double>(group.size());
    Sign sign;
    sign.region = hull_of(group);
    sign.confidence = confidence_of(std::log2(area) + 4 * strength + 0.7 * std::log2(count), 5.0, 0.7);
    // Through glassine the pattern of the wings shows.
    if (view.material == "glassine") sign.confidence *= 0.5;
    sign.severity = severity_of(area, 10, 32, 100);
    if (view.px_per_mm) sign.words = fmt::format("soft grey spots over {:.0f} mm2", area);
    if (sign.confidence > 0.2) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector mould{"mould", 1, look};

}  // namespace papillote::condition::detectors
