// Foxing: scattered rust-brown spots of a fraction of a millimetre to a few millimetres with soft rims.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  // Print on newsprint reaches beyond the lines that were found.
  const std::size_t least_count = view.material == "newsprint" ? 8 : 3;
  cv::Mat where = bare_paper(view, 1.0 * unit);
  const int clear = cvRound(0.8 * unit) | 1;
  cv::erode(where, where, cv::getStructuringElement(cv::MORPH_RECT, {clear, clear}));
  std::vector<Spot> brown;
  for (Spot& spot : spots_on(view, where, 0.11, 0.3, 4.0)) {
    if (spot.region.width_px < 0.55 * spot.region.length_px || spot.region.solidity < 0.78) continue;
    if (spot.brownness < 1.25 || spot.density[0] - spot.density[2] < 0.05F || spot.density[2] > 0.75F) continue;
    brown.push_back(std::move(spot));
  }
  std::vector<Sign> signs;
  for (const std::vector<Spot>& group : grouped(view, brown, 18 * unit, least_count)) {
    const double count = static_cast<double>(group.size());
    // Grains of frass are dark in red light too, and specks in a row are a fold or an edge.
    std::vector<float> red;
    std::vector<cv::Point> all;
    for (const Spot& spot : group) {
      red.push_back(spot.density[2]);
      all.insert(all.end(), spot.region.contour.begin(), spot.region.contour.end());
    }
    std::nth_element(red.begin(), red.begin() + static_cast<std::ptrdiff_t>(red.size() / 2), red.end());
    const cv::RotatedRect around = cv::minAreaRect(all);
    if (red[red.size() / 2] > 0.45F || std::min(around.size.width, around.size.height) < 0.2F * std::max(around.size.width, around.size.height)) continue;
    double strength = 0;
    for (const Spot& spot : group) strength += spot.density[0];
    strength /= count;
    Sign sign;
    sign.region = hull_of(group);
    sign.confidence = confidence_of(std::log2(count) + 5 * std::min(strength, 0.45), 4.4, 0.6);
    sign.severity = severity_of(count, 9, 22, 50);
    sign.words = fmt::format("{} brown spots", group.size());
    if (sign.confidence > 0.35) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector foxing{"foxing", 2, look};

}  // namespace papillote::condition::detectors
