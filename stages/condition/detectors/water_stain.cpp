// Tide lines of old damp: a curved line darker and browner than the paper on both of its sides, around or across a toned field.
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  // A quarter of the view's scale is enough for a line a millimetre wide and averages writing and texture away.
  cv::Mat small;
  cv::Mat paper;
  cv::Mat ink;
  const double shrink = 2.5 / unit;
  cv::resize(view.lab, small, {}, shrink, shrink, cv::INTER_AREA);
  cv::resize(view.paper, paper, small.size(), 0, 0, cv::INTER_NEAREST);
  cv::resize(view.ink, ink, small.size(), 0, 0, cv::INTER_NEAREST);
  std::vector<cv::Mat> planes;
  cv::split(small, planes);
  const cv::Mat brown = 0.7 * planes[2] + 0.5 * planes[1] - 0.4 * planes[0];
  cv::Mat fine;
  cv::Mat coarse;
  cv::GaussianBlur(brown, fine, {}, 1.0);
  cv::GaussianBlur(brown, coarse, {}, 5.0);
  cv::Mat inside;
  cv::erode(paper, inside, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::Mat line = (fine - coarse) > 1.3;
  cv::Mat writing;
  cv::dilate(ink, writing, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  cv::bitwise_and(line, inside & ~writing, line);
  cv::morphologyEx(line, line, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  // Mould and shade darken; a tide line is also yellower than what it crosses.
  cv::Mat yellow;
  cv::Mat yellow_around;
  cv::GaussianBlur(planes[2], yellow, {}, 1.0);
  cv::GaussianBlur(planes[2], yellow_around, {}, 5.0);
  const cv::Mat yellower = yellow - yellow_around;
  cv::Mat depth;
  cv::distanceTransform(paper, depth, cv::DIST_L2, 3);
  std::vector<Sign> signs;
  for (const Region& tide : regions_of(line, 20)) {
    const double length_mm = tide.length_px / 2.5;
    // A fold is straight and as narrow as its shadow; a tide line bends and is hollow within its box.
    if (length_mm < 9 || tide.width_px < 0.22 * tide.length_px || tide.solidity > 0.75) continue;
    cv::Mat own = cv::Mat::zeros(tide.box.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{tide.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                     -tide.box.tl());
    // Old paper browns along its rim; a tide line crosses the sheet.
    cv::Mat across;
    cv::bitwise_and(own, depth(tide.box) > 10, across);
    if (cv::countNonZero(across) < 0.45 * cv::countNonZero(own)) continue;
    if (cv::mean(yellower(tide.box), own)[0] < 0.25) continue;
    const double contrast = cv::mean((fine - coarse)(tide.box), own)[0];
    Sign sign;
    std::vector<cv::Point> hull;
    cv::convexHull(tide.contour, hull);
    for (cv::Point& p : hull) p = cv::Point(cvRound(p.x / shrink), cvRound(p.y / shrink));
    sign.region = polygon_of(hull, 2);
    sign.confidence = confidence_of(contrast, 2.2, 0.6) * confidence_of(length_mm, 13, 3);
    // Through glassine the pattern of the wings shows.
    if (view.material == "glassine") sign.confidence *= 0.5;
    sign.severity = severity_of(length_mm, 18, 30, 48);
    if (view.px_per_mm) {
      sign.size_mm = length_mm;
      sign.words = fmt::format("tide line {:.0f} mm across", length_mm);
    }
    if (sign.confidence > 0.55) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector water_stain{"water_stain", 2, look};

}  // namespace papillote::condition::detectors
