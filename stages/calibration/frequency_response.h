// How much of fine detail a photograph keeps: the spatial frequency response of a slanted edge.
//
// Method of ISO 12233 (from memory): in linear light, the pixels are sorted by their distance from the fitted edge into bins of
// a quarter pixel, differenced, windowed and transformed; corrected for the difference and for the bins. The window is flat
// over its inner half (a Hamming window makes wide blurs look up to 4 % sharper).
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::calibration {

struct FrequencyResponse {
  std::vector<double> modulation;  // at 0, 0.01, 0.02 ... 1 cycles a pixel; the first is 1
  double mtf50_cy_per_px = 0;      // where it falls to a half; 1 where it never does
  double mtf10_cy_per_px = 0;
};

inline constexpr double kFrequencyStep_cy_per_px = 0.01;

// Of the straight edge a-b with even fields of `reach_px` on both sides; `grey` is CV_8UC1. Nothing when there is no edge, or when
// it runs so nearly along the rows or columns that the bins stay empty.
[[nodiscard]] std::optional<FrequencyResponse> frequency_response(const cv::Mat& grey, const Point& a, const Point& b, double reach_px);

// Median over several edges, frequency by frequency; nothing of nothing.
[[nodiscard]] std::optional<FrequencyResponse> median_of(const std::vector<FrequencyResponse>& all);

}  // namespace papillote::calibration
