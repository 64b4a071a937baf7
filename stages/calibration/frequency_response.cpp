#include "stages/calibration/frequency_response.h"

#include <algorithm>
#include <cmath>
#include <complex>

#include "pipeline/image/edge.h"
#include "pipeline/record/rank.h"
#include "stages/calibration/edge_profile.h"

namespace papillote::calibration {
namespace {

constexpr std::size_t kFrequencies = 101;

double sinc(double x) { return x == 0 ? 1 : std::sin(CV_PI * x) / (CV_PI * x); }

// Light by distance from the edge; nothing when too many bins stay empty.
std::optional<std::vector<double>> edge_spread(const cv::Mat& grey, const image::Line& line, const Point& a, const Point& b, double reach_px) {
  const auto [sum, count] = edge_profile(grey, line, a, b, reach_px);
  const std::size_t bins = sum.size();
  const auto empty = static_cast<std::size_t>(std::count(count.begin(), count.end(), 0.0));
  if (bins < 16 || empty > bins / 10) return std::nullopt;
  std::vector<double> spread(bins);
  for (std::size_t i = 0; i < bins; ++i) {
    if (count[i] > 0) {
      spread[i] = sum[i] / count[i];
      continue;
    }
    // The mean of the nearest filled bins on both sides.
    double near = 0;
    int found = 0;
    for (std::size_t k = i; k-- > 0;)
      if (count[k] > 0) {
        near += sum[k] / count[k], ++found;
        break;
      }
    for (std::size_t k = i + 1; k < bins; ++k)
      if (count[k] > 0) {
        near += sum[k] / count[k], ++found;
        break;
      }
    spread[i] = near / std::max(1, found);
  }
  return spread;
}

double crossing(const std::vector<double>& modulation, double level) {
  for (std::size_t i = 1; i < modulation.size(); ++i)
    if (modulation[i] < level) {
      const double share = (modulation[i - 1] - level) / (modulation[i - 1] - modulation[i]);
      return (static_cast<double>(i - 1) + share) * kFrequencyStep_cy_per_px;
    }
  return 1;
}

}  // namespace

std::optional<FrequencyResponse> frequency_response(const cv::Mat& grey, const Point& a, const Point& b, double reach_px) {
  const auto fit = image::fit_edge(grey, a, b, std::max(2.0, reach_px / 2), image::Polarity::either);
  if (!fit) return std::nullopt;
  const auto spread = edge_spread(grey, fit->line, a, b, reach_px);
  if (!spread) return std::nullopt;
  const std::size_t n = spread->size();
  constexpr double kLeastStep = 0.02;
  if (std::abs(spread->front() - spread->back()) < kLeastStep) return std::nullopt;
  std::vector<double> slope(n);
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double across = std::abs(static_cast<double>(i) - static_cast<double>(n) / 2 + 0.5) / (static_cast<double>(n) / 2);
    const double window = across < 0.5 ? 1 : 0.5 + 0.5 * std::cos(CV_PI * (2 * across - 1));
    slope[i] = ((*spread)[i + 1] - (*spread)[i - 1]) / 2 * window;
  }
  FrequencyResponse response;
  double at_zero = 0;
  for (std::size_t k = 0; k < kFrequencies; ++k) {
    const double f = static_cast<double>(k) * kFrequencyStep_cy_per_px;
    std::complex<double> sum;
    for (std::size_t i = 0; i < n; ++i) sum += std::polar(slope[i], -2 * CV_PI * f * kProfileBin_px * static_cast<double>(i));
    if (k == 0) at_zero = std::abs(sum);
    response.modulation.push_back(std::abs(sum) / at_zero / sinc(2 * kProfileBin_px * f) / sinc(kProfileBin_px * f));
  }
  response.mtf50_cy_per_px = crossing(response.modulation, 0.5);
  response.mtf10_cy_per_px = crossing(response.modulation, 0.1);
  return response;
}

std::optional<FrequencyResponse> median_of(const std::vector<FrequencyResponse>& all) {
  if (all.empty()) return std::nullopt;
  FrequencyResponse middle;
  for (std::size_t k = 0; k < kFrequencies; ++k) {
    std::vector<double> values;
    for (const FrequencyResponse& one : all) values.push_back(one.modulation[k]);
    middle.modulation.push_back(median(std::move(values)));
  }
  middle.mtf50_cy_per_px = crossing(middle.modulation, 0.5);
  middle.mtf10_cy_per_px = crossing(middle.modulation, 0.1);
  return middle;
}

}  // namespace papillote::calibration
