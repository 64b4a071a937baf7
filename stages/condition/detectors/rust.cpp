// Rust from a pin or clip: a strong orange-brown mark, long and narrow or with the shape of wire.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat density;
  cv::GaussianBlur(view.density, density, {}, 0.15 * unit);
  std::vector<cv::Mat> planes;
  cv::split(density, planes);
  cv::Mat redder = planes[0] - planes[2];
  cv::Mat orange = (redder > 0.28) & (planes[0] > 0.5) & (planes[1] > 0.25);
  cv::bitwise_and(orange, bare_paper(view, 0.8 * unit), orange);
  orange.setTo(0, view.from_table < 9);
  const int join = cvRound(1.2 * unit) | 1;
  cv::morphologyEx(orange, orange, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {join, join}));
  std::vector<Sign> signs;
  for (const Region& mark : regions_of(orange, 3 * unit * unit)) {
    if (mark.length_px < 8 * unit) continue;
    // The wire or its deepest rust is dark in red light too; grease, tape and stains are not.
    double darkest = 0;
    cv::minMaxLoc(planes[2](mark.box), nullptr, &darkest, nullptr, nullptr, mask_of(mark));
    if (darkest < 0.4) continue;
    const double redness = cv::mean(redder(mark.box), mask_of(mark))[0];
    Sign sign;
    sign.region = polygon_of(mark.contour, 1);
    sign.confidence = 0.6 * confidence_of(redness, 0.35, 0.1) * confidence_of(darkest, 0.6, 0.12);
    sign.severity = severity_of(mark.area_px / mark.length_px / unit, 1.6, 3.0, 5.0);
    if (view.px_per_mm) {
      sign.size_mm = mark.length_px / *view.px_per_mm;
      sign.words = fmt::format("rust mark of {:.0f} mm", *sign.size_mm);
    }
    if (sign.confidence > 0.27) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector rust{"rust", 2, look};

}  // namespace papillote::condition::detectors
