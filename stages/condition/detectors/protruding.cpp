// Wings, legs and antennae that stick out of the paper: neither paper nor table, touching the outline from outside.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat away;
  const cv::Mat off_paper = ~view.paper;
  cv::distanceTransform(off_paper, away, cv::DIST_L2, 5);
  // What hugs the paper is its own shadow and frayed edge.
  cv::Mat outside = view.stray.clone();
  outside.setTo(0, away < 0.8 * unit);
  cv::Mat beside;
  cv::dilate(view.others, beside, cv::getStructuringElement(cv::MORPH_RECT, {cvRound(3 * unit) | 1, cvRound(3 * unit) | 1}));
  std::vector<Sign> signs;
  for (const Region& region : regions_of(outside, 0.6 * unit * unit)) {
    const cv::Mat own = mask_of(region);
    double nearest = 0;
    cv::minMaxLoc(away(region.box), &nearest, nullptr, nullptr, nullptr, own);
    if (nearest > 2 * unit) continue;
    // A dark line that runs on to the next thing or out of sight is a joint of the table.
    cv::Mat meets;
    cv::bitwise_and(own, beside(region.box), meets);
    const bool leaves = region.box.x <= 1 || region.box.y <= 1 || region.box.br().x >= view.paper.cols - 1 || region.box.br().y >= view.paper.rows - 1;
    if ((leaves || cv::countNonZero(meets) > 0) && region.width_px < 2.5 * unit) continue;
    // How far it stands away from the paper: shadows and frayed edges hug it.
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

extern const Detector protruding{"protruding", 2, look};

}  // namespace papillote::condition::detectors
