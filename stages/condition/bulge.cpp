#include "stages/condition/bulge.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

#include "pipeline/record/rank.h"

namespace papillote::condition {
namespace {

constexpr double kPxPerMm = 1;        // fine enough for a swelling of centimetres
constexpr int kStroke_px = 7;         // what is narrower and darker than the paper is ink
constexpr double kRim_mm = 2;         // the paper's edges have light and shadows of their own
constexpr double kHill = 0.27;        // the hill's standard deviation, as a share of the root of the paper's area
constexpr int kRounds = 3;            // of reweighting: stains and folds count less each time
constexpr int kTerms = 6;

using Terms = cv::Matx<double, kTerms, 1>;

// Logarithm of the red light, which stains and yellowing change least, without writing.
cv::Mat light_of(const cv::Mat& bgr) {
  constexpr double kGamma = 2.2, kDarkest = 0.02;
  cv::Mat light;
  cv::extractChannel(bgr, light, 2);
  light.convertTo(light, CV_64F, 1 / 255.0);
  light = cv::max(light, kDarkest);
  cv::log(light, light);
  light *= kGamma;
  cv::morphologyEx(light, light, cv::MORPH_CLOSE, cv::Mat::ones(kStroke_px, kStroke_px, CV_8U));
  return light;
}

}  // namespace

double lift_of(const View& view) {
  constexpr int kFewest = 200;      // pixels
  const double finer = kPxPerMm / view.unit_px;
  cv::Mat paper, inner;
  cv::resize(view.depth_px, paper, {}, finer, finer, cv::INTER_LINEAR);
  inner = paper > kRim_mm * view.unit_px;
  paper = paper > 0;
  if (cv::countNonZero(inner) < kFewest) return 0;
  cv::Mat light;
  cv::resize(view.picture(cv::Rect(cv::Point(), view.depth_px.size()), 1), light, paper.size(), 0, 0, cv::INTER_AREA);
  light = light_of(light);

  const cv::Moments shape = cv::moments(paper, true);
  const cv::Point2d middle(shape.m10 / shape.m00, shape.m01 / shape.m00);
  const double spread = kHill * std::sqrt(shape.m00);
  std::vector<Terms> terms;
  std::vector<double> values;
  for (int y = 0; y < inner.rows; ++y)
    for (int x = 0; x < inner.cols; ++x) {
      if (inner.at<std::uint8_t>(y, x) == 0) continue;
      const double dx = (x - middle.x) / spread, dy = (y - middle.y) / spread;
      const double hill = std::exp(-(dx * dx + dy * dy) / 2);
      terms.emplace_back(1, dx, dy, dx * hill, dy * hill, hill);
      values.push_back(light.at<double>(y, x));
    }

  Terms fit = Terms::zeros();
  std::vector<double> weights(values.size(), 1), off(values.size());
  for (int round = 0; round < kRounds; ++round) {
    cv::Matx<double, kTerms, kTerms> left = cv::Matx<double, kTerms, kTerms>::zeros();
    Terms right = Terms::zeros();
    for (std::size_t i = 0; i < values.size(); ++i) {
      left += weights[i] * (terms[i] * terms[i].t());
      right += (weights[i] * values[i]) * terms[i];
    }
    fit = left.solve(right, cv::DECOMP_SVD);
    for (std::size_t i = 0; i < values.size(); ++i) off[i] = std::abs(values[i] - terms[i].dot(fit));
    const double scale = 1.5 * median(off) + 1e-4;
    for (std::size_t i = 0; i < values.size(); ++i) weights[i] = 1 / (1 + std::pow(off[i] / scale, 2));
  }
  const cv::Rect box = cv::boundingRect(paper);
  return std::hypot(fit(3), fit(4)) * std::max(box.width, box.height) / kPxPerMm;
}

}  // namespace papillote::condition
