#include "noise.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace papillote::samples {
namespace {

constexpr int kTile = 1024;

void normalise(cv::Mat& field) {
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(field, mean, deviation);
  field.convertTo(field, CV_32F, 1.0 / std::max(1e-9, deviation[0]), -mean[0] / std::max(1e-9, deviation[0]));
}

// White noise and three fine blurs of it are drawn once: fine noise over a whole photograph is cut from these tiles.
const std::vector<cv::Mat>& tiles() {
  static const std::vector<cv::Mat> made = [] {
    Random random{20240229};
    cv::Mat white(kTile, kTile, CV_32F);
    for (int y = 0; y < kTile; ++y)
      for (int x = 0; x < kTile; ++x) white.at<float>(y, x) = static_cast<float>(random.normal(0, 1));
    std::vector<cv::Mat> out{white};
    for (const double sigma : {0.6, 1.0, 1.7}) {
      cv::Mat wrapped;
      cv::copyMakeBorder(white, wrapped, 16, 16, 16, 16, cv::BORDER_WRAP);
      cv::GaussianBlur(wrapped, wrapped, {}, sigma);
      cv::Mat inner = wrapped({16, 16, kTile, kTile}).clone();
      normalise(inner);
      out.push_back(inner);
    }
    return out;
  }();
  return made;
}

cv::Mat from_tile(cv::Size size, const cv::Mat& tile, Random& random) {
  const int left = random.whole(0, kTile - 1);
  const int top = random.whole(0, kTile - 1);
  cv::Mat out(size, CV_32F);
  for (int y = 0; y < size.height; ++y) {
    const float* from = tile.ptr<float>((top + y) % kTile);
    float* to = out.ptr<float>(y);
    for (int x = 0; x < size.width;) {
      const int start = (left + x) % kTile;
      const int run = std::min(kTile - start, size.width - x);
      std::copy_n(from + start, run, to + x);
      x += run;
    }
  }
  return out;
}

}  // namespace

cv::Mat streaky_noise(cv::Size size, double grain_x_px, double grain_y_px, Random& random) {
  // Cells of a third of the grain, blurred over a cell and a half before they are enlarged: no grid remains to be seen.
  const double cell_x = std::max(1.0, grain_x_px / 3);
  const double cell_y = std::max(1.0, grain_y_px / 3);
  const cv::Size cells{static_cast<int>(std::ceil(size.width / cell_x)) + 5, static_cast<int>(std::ceil(size.height / cell_y)) + 7};
  cv::Mat coarse(cells, CV_32F);
  if (cells.area() < 4 * kTile) {
    for (int y = 0; y < cells.height; ++y)
      for (int x = 0; x < cells.width; ++x) coarse.at<float>(y, x) = static_cast<float>(random.normal(0, 1));
  } else {
    coarse = from_tile(cells, tiles()[0], random);
  }
  cv::GaussianBlur(coarse, coarse, {}, 1.5, 1.5, cv::BORDER_REFLECT);
  // Cut out with a sub-cell offset, so that fields of equal grain do not line up.
  const double dx = random.unit();
  const double dy = random.unit();
  const cv::Matx23d coarse_from_fine{1.0 / cell_x, 0, 2.5 + dx, 0, 1.0 / cell_y, 2.5 + dy};
  cv::Mat out;
  cv::warpAffine(coarse, out, cv::Mat(coarse_from_fine), size, cv::INTER_CUBIC | cv::WARP_INVERSE_MAP, cv::BORDER_REFLECT);
  out *= 5.3;  // white noise blurred over 1.5 cells keeps a deviation of 1 / (3 sqrt(pi)) = 0.19
  return out;
}

cv::Mat noise(cv::Size size, double grain_px, Random& random) {
  if (grain_px < 1.2) return from_tile(size, tiles()[0], random);
  if (grain_px < 2.0) return from_tile(size, tiles()[1], random);
  if (grain_px < 3.2) return from_tile(size, tiles()[2], random);
  if (grain_px < 5.0) return from_tile(size, tiles()[3], random);
  return streaky_noise(size, grain_px, grain_px, random);
}

}  // namespace papillote::samples
