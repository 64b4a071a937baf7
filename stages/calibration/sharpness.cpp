#include "stages/calibration/sharpness.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/edge.h"
#include "pipeline/record/rank.h"
#include "stages/calibration/edge_profile.h"
#include "stages/calibration/linear_light.h"

namespace papillote::calibration {
namespace {

constexpr double kRiseOfSigma = 2.5631;  // 2 * 1.28155, the tenth of the normal distribution on both sides

double level(const cv::Mat& grey, double x, double y) {
  x = std::clamp(x, 0.0, grey.cols - 1.001);
  y = std::clamp(y, 0.0, grey.rows - 1.001);
  const int x0 = static_cast<int>(x);
  const int y0 = static_cast<int>(y);
  const double fx = x - x0;
  const double fy = y - y0;
  const auto& light = linear_levels();
  const uchar* upper = grey.ptr(y0) + x0;
  const uchar* lower = grey.ptr(y0 + 1) + x0;
  return (light[upper[0]] * (1 - fx) + light[upper[1]] * fx) * (1 - fy) + (light[lower[0]] * (1 - fx) + light[lower[1]] * fx) * fy;
}

}  // namespace

std::optional<double> edge_rise_px(const cv::Mat& grey, const Point& a, const Point& b, double reach_px) {
  const auto fit = image::fit_edge(grey, a, b, std::max(2.0, reach_px / 2), image::Polarity::either);
  if (!fit) return std::nullopt;
  const auto [sum, count] = edge_profile(grey, fit->line, a, b, reach_px);
  const std::size_t bins = sum.size();
  std::vector<Point> spread;  // x = distance, y = light
  for (std::size_t i = 0; i < bins; ++i)
    if (count[i] > 0) spread.push_back({(static_cast<double>(i) + 0.5) * kProfileBin_px - reach_px, sum[i] / count[i]});
  if (spread.size() < bins / 2) return std::nullopt;

  // Levels of the two fields: the outer fifth on each side.
  const std::size_t fifth = spread.size() / 5;
  double low = 0;
  double high = 0;
  for (std::size_t i = 0; i < fifth; ++i)
    low += spread[i].y / static_cast<double>(fifth), high += spread[spread.size() - 1 - i].y / static_cast<double>(fifth);
  if (std::abs(high - low) < 0.02) return std::nullopt;
  const auto share = [&](std::size_t i) { return (spread[i].y - low) / (high - low); };
  // From the middle outwards, so that noise in the fields does not count.
  std::size_t mid = 0;
  for (std::size_t i = 1; i < spread.size(); ++i)
    if (std::abs(spread[i].x) < std::abs(spread[mid].x)) mid = i;
  const auto crossing = [&](double wanted, int step) -> std::optional<double> {
    for (std::size_t i = mid; i > 0 && i + 1 < spread.size(); i = step > 0 ? i + 1 : i - 1) {
      const std::size_t next = step > 0 ? i + 1 : i - 1;
      if ((share(i) - wanted) * (share(next) - wanted) <= 0 && share(i) != share(next))
        return spread[i].x + (spread[next].x - spread[i].x) * (wanted - share(i)) / (share(next) - share(i));
    }
    return std::nullopt;
  };
  const auto tenth = crossing(0.1, -1);
  const auto nine_tenths = crossing(0.9, +1);
  if (!tenth || !nine_tenths) return std::nullopt;
  // The bins blur too; variances add, and a bin has that of a square window.
  const double of_bins = kRiseOfSigma * kRiseOfSigma * kProfileBin_px * kProfileBin_px / 12;
  const double rise = *nine_tenths - *tenth;
  return std::sqrt(std::max(rise * rise - of_bins, 0.0));
}

double sharper_rise_px(const cv::Mat& grey, double search_side_px) {
  // Where to look: in every tile of the picture the steepest place.
  constexpr int kTile_px = 48;
  constexpr int kReach_px = 24;
  constexpr double kLeastStep = 0.08;  // in linear light, of white = 1
  std::vector<double> rises;
  const double scale = std::min(1.0, search_side_px / std::max(grey.cols, grey.rows));
  cv::Mat small = grey;
  if (scale < 1) cv::resize(grey, small, {}, scale, scale, cv::INTER_AREA);
  cv::Mat dx;
  cv::Mat dy;
  cv::Sobel(small, dx, CV_32F, 1, 0);
  cv::Sobel(small, dy, CV_32F, 0, 1);
  cv::Mat steepness;
  cv::magnitude(dx, dy, steepness);
  for (int y = 0; y + kTile_px <= small.rows; y += kTile_px)
    for (int x = 0; x + kTile_px <= small.cols; x += kTile_px) {
      double most = 0;
      cv::Point where;
      cv::minMaxLoc(steepness(cv::Rect(x, y, kTile_px, kTile_px)), nullptr, &most, nullptr, &where);
      if (most < 60) continue;
      where += cv::Point(x, y);
      const cv::Point2d normal = cv::Point2d(dx.at<float>(where), dy.at<float>(where)) / most;
      const cv::Point2d along(-normal.y, normal.x);
      const cv::Point2d at = (cv::Point2d(where) + cv::Point2d(0.5, 0.5)) / scale - cv::Point2d(0.5, 0.5);
      constexpr double kStep_px = 0.5;
      std::array<double, 2 * 2 * kReach_px + 1> profile{};
      for (std::size_t k = 0; k < profile.size(); ++k)
        for (int s = -2; s <= 2; ++s) {
          const cv::Point2d p = at + normal * ((static_cast<double>(k) - 2 * kReach_px) * kStep_px) + along * double(s);
          profile[k] += level(grey, p.x, p.y) / 5;
        }
      std::size_t steepest = 1;
      double slope = 0;  // per px
      for (std::size_t k = 1; k + 1 < profile.size(); ++k)
        if (const double here = (profile[k + 1] - profile[k - 1]) / (2 * kStep_px); here > slope) slope = here, steepest = k;
      if (slope <= 0) continue;
      // The step: down to the lowest and up to the highest level before the edge turns round.
      double low = profile[steepest];
      double high = low;
      for (std::size_t k = steepest; k-- > 0 && profile[k] < low + 0.02;) low = std::min(low, profile[k]);
      for (std::size_t k = steepest; ++k < profile.size() && profile[k] > high - 0.02;) high = std::max(high, profile[k]);
      if (high - low < kLeastStep) continue;
      rises.push_back(kRiseOfSigma * (high - low) / (slope * std::sqrt(2 * CV_PI)));
    }
  constexpr std::size_t kEnough = 20;
  if (rises.size() < kEnough) return 0;
  return quantile(std::move(rises), 0.2);
}

}  // namespace papillote::calibration
