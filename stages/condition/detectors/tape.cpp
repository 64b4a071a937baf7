// Adhesive tape: a strip with straight parallel sides, yellower or glossier than the paper, wider than a fold is.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  // The slow tone would follow a wide strip: compare with the paper's mean instead.
  const cv::Scalar mean = cv::mean(view.lab, view.paper & ~view.ink);
  cv::Mat smooth;
  cv::GaussianBlur(view.lab, smooth, {}, 0.4 * unit);
  std::vector<cv::Mat> planes;
  cv::split(smooth, planes);
  cv::Mat yellow = planes[2] - mean[2];
  cv::Mat strip = yellow > 7;
  cv::bitwise_and(strip, view.paper, strip);
  const int open = cvRound(2.5 * unit) | 1;
  const int close = cvRound(1.2 * unit) | 1;
  cv::morphologyEx(strip, strip, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {close, close}));
  cv::morphologyEx(strip, strip, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {open, open}));
  std::vector<Sign> signs;
  for (const Region& region : regions_of(strip, 60 * unit * unit)) {
    const double width = region.width_px / unit;
    if (width < 6 || width > 32 || region.length_px < 1.3 * region.width_px) continue;
    const double filled = region.area_px / (region.length_px * region.width_px);
    if (filled < 0.78) continue;
    Sign sign;
    sign.region = polygon_of(region.contour, 2);
    sign.confidence = confidence_of(filled, 0.85, 0.03);
    sign.severity = severity_of(region.length_px / unit, 20, 45, 80);
    if (view.px_per_mm) {
      sign.size_mm = region.length_px / *view.px_per_mm;
      sign.words = fmt::format("strip of {:.0f} x {:.0f} mm", *sign.size_mm, region.width_px / *view.px_per_mm);
    }
    if (sign.confidence > 0.3) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector tape{"tape", 1, look};

}  // namespace papillote::condition::detectors
