#include "tests/evaluate/overlap.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace papillote::evaluation {
namespace {

struct Box {
  double left = 1e18, top = 1e18, right = -1e18, bottom = -1e18;
};

Box box_of(const Polygon& polygon) {
  Box box;
  for (const auto& p : polygon) {
    box.left = std::min(box.left, p.x);
    box.right = std::max(box.right, p.x);
    box.top = std::min(box.top, p.y);
    box.bottom = std::max(box.bottom, p.y);
  }
  return box;
}

double area_of(const Polygon& polygon) {
  double sum = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) sum += polygon[i].cross(polygon[(i + 1) % polygon.size()]);
  return std::abs(sum) / 2;
}

}  // namespace

Overlap overlap(const Polygon& first, const Polygon& second) {
  if (first.size() < 3 || second.size() < 3) return {};
  Overlap out{0, area_of(first), area_of(second)};
  const Box a = box_of(first);
  const Box b = box_of(second);
  const double left = std::max(a.left, b.left);
  const double right = std::min(a.right, b.right);
  const double top = std::max(a.top, b.top);
  const double bottom = std::min(a.bottom, b.bottom);
  if (left >= right || top >= bottom) return out;
  const double scale = 1000 / std::max(right - left, bottom - top);
  const cv::Size size{static_cast<int>(std::ceil((right - left) * scale)), static_cast<int>(std::ceil((bottom - top) * scale))};
  constexpr int kBits = 6;
  const auto filled = [&](const Polygon& polygon) {
    std::vector<cv::Point> contour;
    for (const auto& p : polygon)
      contour.emplace_back(static_cast<int>(std::lround(((p.x - left) * scale - 0.5) * (1 << kBits))),
                           static_cast<int>(std::lround(((p.y - top) * scale - 0.5) * (1 << kBits))));
    cv::Mat mask(size, CV_8U, cv::Scalar(0));
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{contour}, cv::Scalar(255), cv::LINE_8, kBits);
    return mask;
  };
  const cv::Mat both = filled(first) & filled(second);
  out.common = std::min({cv::countNonZero(both) / (scale * scale), out.first, out.second});
  return out;
}

std::vector<Pair> pair_up(const std::vector<Polygon>& truth, const std::vector<Polygon>& found, double least_iou) {
  std::vector<Pair> candidates;
  for (std::size_t t = 0; t < truth.size(); ++t)
    for (std::size_t f = 0; f < found.size(); ++f)
      if (const double iou = overlap(truth[t], found[f]).iou(); iou >= least_iou) candidates.push_back({t, f, iou});
  std::sort(candidates.begin(), candidates.end(), [](const Pair& a, const Pair& b) { return a.iou > b.iou; });
  std::vector<bool> truth_taken(truth.size());
  std::vector<bool> found_taken(found.size());
  std::vector<Pair> pairs;
  for (const Pair& pair : candidates) {
    if (truth_taken[pair.truth] || found_taken[pair.found]) continue;
    truth_taken[pair.truth] = found_taken[pair.found] = true;
    pairs.push_back(pair);
  }
  return pairs;
}

}  // namespace papillote::evaluation
