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
  cv::Mat strip = yellow > 5;
  cv::bitwise_and(strip, view.paper, strip);
  const int open = cvRound(2.5 * unit) | 1;
  const int close = cvRound(1.2 * unit) | 1;
  cv::morphologyEx(strip, strip, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {close, close}));
  cv::morphologyEx(strip, strip, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_RECT, {open, open}));
  cv::Mat depth;
  cv::distanceTransform(view.paper, depth, cv::DIST_L2, 3);
  // Step of b* over about a millimetre across the side.
  cv::Mat outer;
  cv::Mat inner;
  const int across = 2 * cvRound(0.8 * unit) + 1;
  cv::dilate(planes[2], inner, cv::getStructuringElement(cv::MORPH_RECT, {across, across}));
  cv::erode(planes[2], outer, cv::getStructuringElement(cv::MORPH_RECT, {across, across}));
  const cv::Mat steep = inner - outer;
  std::vector<Sign> signs;
  for (const Region& region : regions_of(strip, 25 * unit * unit)) {
    const double width = region.width_px / unit;
    if (width < 5 || width > 32) continue;
    // Straight sides and few corners: stains and toning wander.
    std::vector<cv::Point> sides;
    cv::approxPolyDP(region.contour, sides, 1.0 * unit, true);
    if (sides.size() < 3 || sides.size() > 6 || region.solidity < 0.9) continue;
    double straight = 0;
    for (const cv::Point& p : region.contour) straight += static_cast<double>(std::abs(cv::pointPolygonTest(sides, cv::Point2f(p), true)) < 0.4 * unit);
    straight /= static_cast<double>(region.contour.size());
    // Its free sides are as sharp as a cut.
    int free = 0;
    int sharp = 0;
    for (const cv::Point& p : region.contour) {
      if (depth.at<float>(p) < 1.5 * unit) continue;
      ++free;
      sharp += static_cast<int>(steep.at<float>(p) > 4.0F);
    }
    if (free < 4 * unit) continue;
    const double cut = static_cast<double>(sharp) / free;
    Sign sign;
    sign.region = polygon_of(region.contour, 2);
    sign.confidence = confidence_of(straight, 0.7, 0.06) * confidence_of(cut, 0.6, 0.08);
    // Through glassine the pattern of the wings shows.
    if (view.material == "glassine") sign.confidence *= 0.4;
    sign.severity = severity_of(region.area_px / (unit * unit), 130, 230, 360);
    if (view.px_per_mm) {
      sign.size_mm = region.length_px / *view.px_per_mm;
      sign.words = fmt::format("strip of {:.0f} x {:.0f} mm", *sign.size_mm, region.width_px / *view.px_per_mm);
    }
    if (sign.confidence > 0.4) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector tape{"tape", 2, look};

}  // namespace papillote::condition::detectors
