// Frass: dust and pellets of feeding insects, many small dark brown grains in a heap, on the paper or beside it.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat lightness;
  cv::extractChannel(view.lab, lightness, 0);
  // Grains are darker than what they lie on, whatever that is, and at most a millimetre across.
  cv::Mat ground;
  const int wide = cvRound(1.6 * unit) | 1;
  cv::morphologyEx(lightness, ground, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {wide, wide}));
  cv::Mat grains = (ground - lightness) > 15;
  cv::Mat not_here = view.others.clone();
  cv::Mat writing;
  cv::dilate(view.ink, writing, cv::getStructuringElement(cv::MORPH_ELLIPSE, {cvRound(unit) | 1, cvRound(unit) | 1}));
  grains.setTo(0, not_here | writing);
  // The paper's own outline and its shadow are a dark thin line, no grain.
  cv::Mat rim;
  cv::morphologyEx(view.paper, rim, cv::MORPH_GRADIENT, cv::getStructuringElement(cv::MORPH_ELLIPSE, {cvRound(0.9 * unit) | 1, cvRound(0.9 * unit) | 1}));
  grains.setTo(0, rim);

  cv::Mat heap = cv::Mat::zeros(grains.size(), CV_8U);
  std::vector<Region> single;
  for (const Region& grain : regions_of(grains, 2)) {
    if (grain.length_px > 1.6 * unit || grain.solidity < 0.6 || grain.width_px < 0.35 * grain.length_px) continue;
    const cv::Vec3f& lab = view.lab.at<cv::Vec3f>(std::clamp(cvRound(grain.centre.y), 0, view.lab.rows - 1),
                                                  std::clamp(cvRound(grain.centre.x), 0, view.lab.cols - 1));
    if (lab[0] > 62) continue;
    cv::circle(heap, grain.centre, cvRound(1.3 * unit), cv::Scalar(255), cv::FILLED);
    single.push_back(grain);
  }
  std::vector<Sign> signs;
  for (const Region& area : regions_of(heap, 4 * unit * unit)) {
    std::vector<Region> inside;
    for (const Region& grain : single)
      if (cv::pointPolygonTest(area.contour, cv::Point2f(grain.centre), false) >= 0) inside.push_back(grain);
    const double count = static_cast<double>(inside.size());
    const double per_square = count / (area.area_px / (unit * unit));
    if (count < 9) continue;
    Sign sign;
    sign.region = hull_of(inside);
    sign.confidence = confidence_of(std::log2(count), 4.2, 0.5) * confidence_of(per_square, 0.35, 0.08);
    sign.severity = severity_of(count, 18, 45, 110);
    if (view.px_per_mm) sign.size_mm = area.length_px / *view.px_per_mm;
    sign.words = fmt::format("{} grains together", inside.size());
    if (sign.confidence > 0.25) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector frass{"frass", 1, look};

}  // namespace papillote::condition::detectors
