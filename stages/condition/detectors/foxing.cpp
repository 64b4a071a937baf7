// Foxing: scattered rust-brown spots of one to a few millimetres with soft rims.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat difference = view.lab - view.tone;
  cv::GaussianBlur(difference, difference, {}, 0.25 * unit);
  std::vector<cv::Mat> planes;
  cv::split(difference, planes);
  // Brown: yellower and redder than the paper, and somewhat darker.
  cv::Mat brown = planes[1] + planes[2];
  cv::Mat spots = (brown > 6) & (planes[0] < -1.5) & (planes[0] > -30);
  cv::Mat inside;
  const int rim = 2 * cvRound(0.8 * unit) + 1;
  cv::erode(view.paper, inside, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::bitwise_and(spots, inside & ~view.ink, spots);
  std::vector<Region> found;
  double contrast = 0;
  for (const Region& spot : regions_of(spots, 0.25 * unit * unit)) {
    if (spot.length_px > 6 * unit || spot.solidity < 0.7 || spot.width_px < 0.45 * spot.length_px) continue;
    contrast += brown.at<float>(cvRound(spot.centre.y), cvRound(spot.centre.x));
    found.push_back(spot);
  }
  if (found.size() < 4) return {};
  contrast /= static_cast<double>(found.size());
  Sign sign;
  sign.region = hull_of(found);
  const double count = static_cast<double>(found.size());
  sign.confidence = confidence_of(std::log2(count), 2.8, 0.5) * confidence_of(contrast, 8, 2);
  sign.severity = severity_of(count, 8, 20, 45);
  sign.words = fmt::format("{} brown spots", found.size());
  if (sign.confidence < 0.25) return {};
  return {sign};
}

}  // namespace

extern const Detector foxing{"foxing", 1, look};

}  // namespace papillote::condition::detectors
