// Holes through the paper as feeding insects leave them: small, nearly round, with a sharp rim, and showing the table or the
// dark inside of the packet.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

constexpr double kLeast_mm = 0.5;
constexpr double kMost_mm = 8;

std::vector<Sign> look(const View& view) {
  // Well inside the paper: the rim itself is where tears and worn edges are.
  cv::Mat inside;
  const int rim = 2 * cvRound(0.6 * view.unit_px) + 1;
  cv::erode(view.paper, inside, cv::getStructuringElement(cv::MORPH_RECT, {rim, rim}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));

  cv::Mat candidate = cv::Mat::zeros(view.paper.size(), CV_8U);
  for (int y = 0; y < candidate.rows; ++y) {
    for (int x = 0; x < candidate.cols; ++x) {
      if (inside.at<uchar>(y, x) == 0) continue;
      const cv::Vec3f& here = view.lab.at<cv::Vec3f>(y, x);
      const cv::Vec3f& paper = view.tone.at<cv::Vec3f>(y, x);
      const cv::Vec3f difference = here - paper;
      const double from_paper = std::sqrt(difference.dot(difference));
      const bool like_table = from_paper > 14 && view.from_table.at<float>(y, x) < 0.45 * from_paper;
      const bool into_the_dark = paper[0] - here[0] > 34;
      if (like_table || into_the_dark) candidate.at<uchar>(y, x) = 255;
    }
  }
  // Over print only what is wider than a stroke is looked at.
  cv::Mat wide;
  const int stroke = cvRound(0.8 * view.unit_px) | 1;
  cv::morphologyEx(candidate, wide, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {stroke, stroke}));
  wide.copyTo(candidate, view.ink);
  std::vector<Sign> signs;
  const double unit = view.unit_px;
  const std::vector<Region> regions = regions_of(candidate, 0.05 * unit * unit);
  // Dark specks close together are grains of frass or a colony, not the way out of one beetle.
  const auto among_grains = [&](const Region& region) {
    if (region.length_px > 1.6 * unit) return false;
    const auto near = std::count_if(regions.begin(), regions.end(), [&](const Region& other) {
      return other.length_px < 2.5 * unit && other.width_px > 0.3 * other.length_px && cv::norm(other.centre - region.centre) < 5 * unit;
    });
    return near > 4;
  };
  for (const Region& region : regions_of(candidate, 0.2 * unit * unit)) {
    const double diameter = 2 * std::sqrt(region.area_px / 3.14159);
    if (diameter < kLeast_mm * unit || diameter > kMost_mm * unit) continue;
    if (region.solidity < 0.82 || region.width_px < 0.55 * region.length_px) continue;
    const cv::Mat own = mask_of(region);
    // Letters are hollow or fringed; a hole is one even patch of table or dark.
    cv::Mat open;
    cv::bitwise_and(own, candidate(region.box), open);
    const double filled = static_cast<double>(cv::countNonZero(open)) / cv::countNonZero(own);
    if (filled < 0.97) continue;
    const bool in_writing = cv::countNonZero(view.ink(region.box)) > 0;
    if (in_writing && region.width_px < 1.1 * unit) continue;
    const double sharpness = rim_sharpness(view, region);
    cv::Mat core;
    cv::erode(own, core, cv::Mat(), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    if (cv::countNonZero(core) == 0) core = own;
    cv::Scalar here;
    cv::Scalar spread;
    cv::meanStdDev(view.lab(region.box), here, spread, core);
    const cv::Scalar paper = cv::mean(view.tone(region.box), own);
    const double contrast = std::sqrt(std::pow(here[0] - paper[0], 2) + std::pow(here[1] - paper[1], 2) + std::pow(here[2] - paper[2], 2));
    Sign sign;
    sign.region = polygon_of(region.contour, 0.5);
    sign.confidence = (in_writing ? 0.5 : 1.0) * confidence_of(contrast, 20, 6) * confidence_of(region.roundness * region.solidity, 0.8, 0.04) *
                      confidence_of(sharpness, 0.17, 0.03) * confidence_of(diameter / unit, 0.75, 0.08);
    if (view.px_per_mm) {
      sign.size_mm = diameter / *view.px_per_mm;
      sign.words = fmt::format("hole of {:.1f} mm", *sign.size_mm);
    }
    sign.severity = severity_of(diameter / unit, 1.0, 2.0, 4.0);
    if (sign.confidence > 0.3 && !among_grains(region)) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector hole{"hole", 2, look};

}  // namespace papillote::condition::detectors
