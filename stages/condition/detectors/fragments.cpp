// Loose parts beside the envelope: small pieces that are neither table nor paper and touch nothing.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/surface.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  const double unit = view.unit_px;
  cv::Mat reach;
  const int rim = 2 * cvRound(1.2 * unit) + 1;
  cv::dilate(view.paper, reach, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}));
  const cv::Rect frame(0, 0, view.paper.cols, view.paper.rows);
  std::vector<Spot> pieces;
  for (const Region& region : regions_of(view.stray, 0.5 * unit * unit)) {
    // Pellets and dust are another sign; whatever leaves the view belongs to something else.
    if (region.length_px < 1.5 * unit || region.length_px > 18 * unit) continue;
    if (region.box.x <= 1 || region.box.y <= 1 || region.box.br().x >= frame.width - 1 || region.box.br().y >= frame.height - 1) continue;
    cv::Mat own = cv::Mat::zeros(region.box.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{region.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                     -region.box.tl());
    cv::Mat touching;
    cv::bitwise_and(own, reach(region.box), touching);
    if (cv::countNonZero(touching) > 0) continue;
    // A loose piece lies on the table; print lies on a card or a slip.
    const int reach_px = cvRound(1.2 * unit);
    const cv::Rect wide = (region.box + cv::Size(2 * reach_px, 2 * reach_px) - cv::Point(reach_px, reach_px)) & frame;
    cv::Mat ring = cv::Mat::zeros(wide.size(), CV_8U);
    own.copyTo(ring(region.box - wide.tl()));
    cv::Mat inner;
    cv::dilate(ring, inner, cv::getStructuringElement(cv::MORPH_RECT, {cvRound(0.8 * unit) | 1, cvRound(0.8 * unit) | 1}));
    cv::dilate(ring, ring, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach_px + 1, 2 * reach_px + 1}));
    ring.setTo(0, inner);
    cv::Mat table;
    cv::bitwise_and(ring, view.from_table(wide) < 9, table);
    if (cv::countNonZero(table) < 0.75 * cv::countNonZero(ring)) continue;
    // On a light table a slip is not told from the table: neutral black on white may be its print.
    const cv::Scalar tint = cv::mean(view.lab(region.box), own);
    if (cv::mean(view.lab(wide), ring)[0] > 65 && std::hypot(tint[1], tint[2]) < 7) continue;
    Spot piece;
    piece.region = region;
    pieces.push_back(std::move(piece));
  }
  std::vector<Sign> signs;
  for (const std::vector<Spot>& scattered : grouped(view, pieces, 9 * unit, 1)) {
    double clearest = 0;
    double longest = 0;
    for (const Spot& piece : scattered) {
      clearest = std::max(clearest, cv::mean(view.from_table(piece.region.box), mask_of(piece.region))[0]);
      longest = std::max(longest, piece.region.length_px);
    }
    Sign sign;
    sign.region = hull_of(scattered);
    sign.confidence = 0.6 * confidence_of(clearest, 15, 4);  // half of them are parts that stick out, seen in pieces, or print on a slip
    sign.severity = severity_of(static_cast<double>(scattered.size()), 3, 5, 8);
    sign.words = scattered.size() == 1 ? "a loose piece" : fmt::format("{} loose pieces", scattered.size());
    if (view.px_per_mm) {
      sign.size_mm = longest / *view.px_per_mm;
      sign.words += fmt::format(", the longest {:.0f} mm", *sign.size_mm);
    }
    if (sign.confidence > 0.45) signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector fragments{"fragments", 2, look};

}  // namespace papillote::condition::detectors
