// Foxing: scattered rust-brown spots of a fraction of a millimetre to a few millimetres with soft rims.
#include <cmath>

#include <fmt/format.h>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  std::vector<Spot> brown;
  for (Spot& spot : spots_on(view, bare_paper(view, 0.8 * unit), 0.11, 0.3, 4.0)) {
    if (spot.brownness < 1.25 || spot.density[0] - spot.density[2] < 0.05F) continue;
    brown.push_back(std::move(spot));
  }
  std::vector<Sign> signs;
  for (const std::vector<Spot>& group : grouped(view, brown, 18 * unit, 3)) {
    const double count = static_cast<double>(group.size());
    double strength = 0;
    for (const Spot& spot : group) strength += spot.density[0];
    strength /= count;
    Sign sign;
    sign.region = hull_of(group);
    sign.confidence = confidence_of(std::log2(count) + 6 * strength, 4.6, 0.6);
    sign.severity = severity_of(count, 9, 22, 50);
    sign.words = fmt::format("{} brown spots", group.size());
    if (sign.confidence > 0.2) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector foxing{"foxing", 2, look};

}  // namespace papillote::condition::detectors
