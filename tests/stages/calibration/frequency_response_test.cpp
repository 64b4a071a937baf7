#include "stages/calibration/frequency_response.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/stages/calibration/slanted_edge.h"

namespace papillote::calibration {
namespace {

FrequencyResponse of(double sigma_px, double tilt_deg) {
  const double t = std::tan(tilt_deg * CV_PI / 180);
  return frequency_response(draw::slanted_edge(sigma_px, true, tilt_deg), {80 + 95 * t, 5}, {80 - 95 * t, 195}, 22).value();
}

// slanted_edge_checks.csv of the project's reference tables, rows "pixel_aperture yes" (analytic: the Gaussian's response times
// that of a square pixel): "within about 2 %".
TEST(FrequencyResponse, AgreesWithTheTableOfSlantedEdges) {
  struct Row {
    double sigma_px, mtf50, mtf10, at_025, at_05;
  };
  for (const Row& row : {Row{0.5, 0.32309, 0.58128, 0.66138, 0.18539}, {0.6, 0.28072, 0.50811, 0.57745, 0.10773}, {0.8, 0.22012, 0.40023, 0.40878, 0.02706},
                         {1.0, 0.17996, 0.32766, 0.26218, 0.00458}, {1.5, 0.12267, 0.22352, 0.05609, 0.00001}, {2.0, 0.09273, 0.16900, 0.00647, 0.0},
                         {3.0, 0.06218, 0.11332, 0.00001, 0.0}})
    for (const double tilt_deg : {5.0, -8.0, 3.0}) {
      const FrequencyResponse seen = of(row.sigma_px, tilt_deg);
      EXPECT_NEAR(seen.mtf50_cy_per_px / row.mtf50, 1, 0.02) << row.sigma_px << " " << tilt_deg;
      EXPECT_NEAR(seen.mtf10_cy_per_px / row.mtf10, 1, 0.03) << row.sigma_px << " " << tilt_deg;
      EXPECT_NEAR(seen.modulation[25], row.at_025, 0.015) << row.sigma_px << " " << tilt_deg;
      EXPECT_NEAR(seen.modulation[50], row.at_05, 0.015) << row.sigma_px << " " << tilt_deg;
    }
}

TEST(FrequencyResponse, NoneWithoutAnEdgeOrAlongTheColumns) {
  EXPECT_FALSE(frequency_response(cv::Mat(100, 100, CV_8UC1, cv::Scalar(90)), {50, 5}, {50, 95}, 20));
  EXPECT_FALSE(frequency_response(draw::slanted_edge(0.5, true, 0), {80, 5}, {80, 195}, 22)) << "a quarter pixel cannot be told";
}

TEST(FrequencyResponse, MedianLeavesOutliersOut) {
  const auto middle = median_of({of(1, 5), of(1, 8), of(3, 5)});
  EXPECT_NEAR(middle->mtf50_cy_per_px, 0.18, 0.01);
  EXPECT_FALSE(median_of({}));
}

}  // namespace
}  // namespace papillote::calibration
