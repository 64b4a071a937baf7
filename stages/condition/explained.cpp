#include "stages/condition/explained.h"

#include <algorithm>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace papillote::condition {
namespace {

bool lies_on(const Sign& one, const Sign& other, const View& view) {
  constexpr double kNear = 2;  // about millimetres
  constexpr double kGoodPart = 0.5;
  const cv::Rect all({}, view.depth_px.size());
  cv::Mat around;
  const int wide = 2 * cvRound(kNear * view.unit_px) + 1;
  cv::dilate(image::inside_of(other.region, all), around, cv::getStructuringElement(cv::MORPH_ELLIPSE, {wide, wide}));
  const cv::Mat own = image::inside_of(one.region, all);
  return cv::countNonZero(own & around) > kGoodPart * cv::countNonZero(own);
}

}  // namespace

std::vector<Seen> without_explained(const std::vector<Seen>& seen, const View& view) {
  constexpr double kSureOfOther = 0.5;
  std::vector<Seen> kept;
  for (const Seen& one : seen) {
    const auto& kinds = one.detector->explained_by;
    const bool explained = std::any_of(seen.begin(), seen.end(), [&](const Seen& other) {
      return other.sign.confidence >= kSureOfOther && std::find(kinds.begin(), kinds.end(), other.detector->name) != kinds.end() &&
             lies_on(one.sign, other.sign, view);
    });
    if (!explained) kept.push_back(one);
  }
  return kept;
}

}  // namespace papillote::condition
