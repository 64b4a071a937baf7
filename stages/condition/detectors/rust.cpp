// Rust from a pin or clip: a strong orange-brown mark, long and narrow or with the shape of wire.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat difference = view.lab - view.tone;
  cv::GaussianBlur(difference, difference, {}, 0.15 * unit);
  std::vector<cv::Mat> planes;
  cv::split(difference, planes);
  cv::Mat orange = (planes[1] > 7) & (planes[2] > 7) & (planes[0] < -6);
  cv::bitwise_and(orange, view.paper & ~view.ink, orange);
  const int join = cvRound(0.8 * unit) | 1;
  cv::morphologyEx(orange, orange, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {join, join}));
  std::vector<Sign> signs;
  for (const Region& mark : regions_of(orange, 1.5 * unit * unit)) {
    if (mark.length_px < 2.5 * unit) continue;
    cv::Mat own = cv::Mat::zeros(mark.box.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{mark.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                     -mark.box.tl());
    const double redness = cv::mean(planes[1](mark.box), own)[0];
    Sign sign;
    sign.region = polygon_of(mark.contour, 1);
    sign.confidence = confidence_of(redness, 10, 2.5);
    sign.severity = severity_of(mark.area_px / (unit * unit), 8, 30, 90);
    if (view.px_per_mm) {
      sign.size_mm = mark.length_px / *view.px_per_mm;
      sign.words = fmt::format("rust mark of {:.0f} mm", *sign.size_mm);
    }
    if (sign.confidence > 0.3) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector rust{"rust", 1, look};

}  // namespace papillote::condition::detectors
