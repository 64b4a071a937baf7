// Wings, legs and antennae that stick out of the paper: neither paper nor table, touching the outline from outside.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  const cv::Mat outside = stray_matter(view);
  cv::Mat reach;
  const int rim = 2 * cvRound(1.2 * unit) + 1;
  cv::dilate(view.paper, reach, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}));
  std::vector<Sign> signs;
  for (const Region& region : regions_of(outside, 1.0 * unit * unit)) {
    cv::Mat own = cv::Mat::zeros(region.box.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{region.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                     -region.box.tl());
    cv::Mat touching;
    cv::bitwise_and(own, reach(region.box), touching);
    if (cv::countNonZero(touching) == 0) continue;
    // How far it stands away from the paper: shadows and frayed edges hug it.
    cv::Mat away;
    cv::distanceTransform(~view.paper, away, cv::DIST_L2, 5);
    double farthest = 0;
    cv::minMaxLoc(away(region.box), nullptr, &farthest, nullptr, nullptr, own);
    if (farthest < 1.8 * unit) continue;
    const double difference = cv::mean(view.from_table(region.box), own)[0];
    Sign sign;
    sign.region = polygon_of(region.contour, 1);
    sign.confidence = confidence_of(difference, 13, 4) * confidence_of(farthest / unit, 2.0, 0.5);
    sign.severity = severity_of(farthest / unit, 2.5, 4.5, 8);
    if (view.px_per_mm) {
      sign.size_mm = region.length_px / *view.px_per_mm;
      sign.words = fmt::format("sticks out {:.0f} mm", farthest / *view.px_per_mm);
    }
    if (sign.confidence > 0.25) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector protruding{"protruding", 1, look};

}  // namespace papillote::condition::detectors
