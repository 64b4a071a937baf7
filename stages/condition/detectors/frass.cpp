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
  // Grains are darker than what they lie on, whatever that is, and at most a millimetre or so across.
  cv::Mat ground;
  const int wide = cvRound(1.8 * unit) | 1;
  cv::morphologyEx(lightness, ground, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {wide, wide}));
  cv::Mat grains = (ground - lightness) > 13;
  cv::Mat depth_in;
  cv::Mat depth_out;
  cv::distanceTransform(view.paper, depth_in, cv::DIST_L2, 3);
  cv::Mat off_paper = ~view.paper;
  cv::distanceTransform(off_paper, depth_out, cv::DIST_L2, 3);
  // The paper's own outline and its shadow are a dark thin line, no grain.
  grains.setTo(0, (depth_in < 0.5 * unit) & (depth_out < 0.5 * unit));
  // Beside the paper grains lie on the table, print lies on cards and slips.
  cv::Mat table_near;
  cv::erode(view.from_table, table_near, cv::getStructuringElement(cv::MORPH_RECT, {wide, wide}));
  grains.setTo(0, (depth_out > 0) & (table_near > 9));
  grains.setTo(0, view.others);
  grains.setTo(0, view.ink);

  std::vector<Spot> single;
  for (Region& grain : regions_of(grains, 0.05 * unit * unit)) {
    if (grain.length_px > 2.6 * unit || grain.solidity < 0.6 || grain.width_px < 0.3 * grain.length_px) continue;
    const cv::Rect box = grain.box;
    const cv::Scalar here = cv::mean(view.lab(box), mask_of(grain));
    if (here[0] > 60 || here[2] < -2) continue;
    Spot spot;
    spot.region = std::move(grain);
    single.push_back(std::move(spot));
  }
  std::vector<Sign> signs;
  for (const std::vector<Spot>& heap : grouped(view, single, 2.6 * unit, 6)) {
    double area = 0;
    std::vector<cv::Point> all;
    for (const Spot& grain : heap) {
      area += grain.region.area_px;
      all.insert(all.end(), grain.region.contour.begin(), grain.region.contour.end());
    }
    // Along a fold or an edge specks stand in a row.
    const cv::RotatedRect around = cv::minAreaRect(all);
    if (std::min(around.size.width, around.size.height) < 0.22F * std::max(around.size.width, around.size.height)) continue;
    std::vector<cv::Point> hull;
    cv::convexHull(all, hull);
    // A grain of a heap is a third of a square millimetre: grains that touch count by their area.
    const double count = std::max(static_cast<double>(heap.size()), area / (0.4 * unit * unit));
    const double covered = area / std::max(1.0, cv::contourArea(hull));
    Sign sign;
    sign.region = hull_of(heap);
    sign.confidence = confidence_of(std::log2(count) + 6 * std::min(covered, 0.25), 5.0, 0.5);
    sign.severity = severity_of(count, 22, 50, 105);
    if (view.px_per_mm) sign.size_mm = std::sqrt(cv::contourArea(hull)) / *view.px_per_mm;
    sign.words = fmt::format("about {:.0f} grains together", count);
    if (sign.confidence > 0.2) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector frass{"frass", 2, look};

}  // namespace papillote::condition::detectors
