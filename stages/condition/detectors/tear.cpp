// Tears: a gap from the edge into the paper in which the table or the dark inside shows. Missing corners are told apart from them by
// where they lie and how wide they are.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  std::vector<Sign> signs;
  for (const Region& gap : gaps_at_edge(view)) {
    if (is_corner_gap(view, gap)) continue;
    const double depth = depth_into_paper_px(view, gap);
    if (depth < 1.2 * unit) continue;
    Sign sign;
    sign.region = polygon_of(gap.contour, 1);
    sign.confidence = confidence_of(depth / unit, 3.4, 0.6);
    sign.severity = severity_of(depth / unit, 7, 12, 20);
    if (view.px_per_mm) {
      sign.size_mm = depth / *view.px_per_mm;
      sign.words = fmt::format("torn {:.0f} mm into the paper", *sign.size_mm);
    }
    if (sign.confidence > 0.25) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector tear{"tear", 2, look};

}  // namespace papillote::condition::detectors
