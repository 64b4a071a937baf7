#include "stages/calibration/sharpness.h"

#include <cmath>

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "tests/stages/calibration/slanted_edge.h"

namespace papillote::calibration {
namespace {

using draw::slanted_edge;

double rise_of(const cv::Mat& grey, double tilt_deg) {
  const double t = std::tan(tilt_deg * CV_PI / 180);
  return edge_rise_px(grey, {80 + 95 * t, 5}, {80 - 95 * t, 195}, 22).value();
}

// slanted_edge_checks.csv of the project's reference tables: rows "pixel_aperture no", column rise_10_90_px, which are
// 2.5631 sigma (derived).
TEST(EdgeRise, AgreesWithTheTableOfSlantedEdges) {
  for (const auto& [sigma_px, rise_px] : {std::pair{0.5, 1.2816}, {0.6, 1.5379}, {0.7, 1.7942}, {0.8, 2.0505},
                                          {1.0, 2.5631}, {1.5, 3.8447}, {2.0, 5.1262}, {3.0, 7.6893}})
    for (const double tilt_deg : {5.0, -12.0, 30.0})
      EXPECT_NEAR(rise_of(slanted_edge(sigma_px, false, tilt_deg), tilt_deg) / rise_px, 1, 0.025) << sigma_px << " " << tilt_deg;
}

// Same table, first row: a perfect square pixel has a rise of 0.8 px.
TEST(EdgeRise, SquarePixelsAlone) { EXPECT_NEAR(rise_of(slanted_edge(0, true, 5), 5), 0.8, 0.08); }

// Pixel and Gaussian together: variances add, 1/12 px^2 from the pixel (derived; holds within a percent from sigma 0.7).
TEST(EdgeRise, PixelsWidenTheBlur) {
  for (const double sigma_px : {0.7, 1.0, 2.0})
    EXPECT_NEAR(rise_of(slanted_edge(sigma_px, true, 5), 5) / (2.5631 * std::sqrt(sigma_px * sigma_px + 1 / 12.0)), 1, 0.025);
}

TEST(EdgeRise, FlatGreyHasNone) { EXPECT_FALSE(edge_rise_px(cv::Mat(100, 100, CV_8UC1, cv::Scalar(90)), {50, 5}, {50, 95}, 20)); }

TEST(SharperRise, FallsAndRisesWithTheBlurOfAPage) {
  cv::Mat page(1500, 2000, CV_8UC1, cv::Scalar(200));
  cv::RNG rng(3);
  for (int i = 0; i < 150; ++i) {
    const cv::Point2f centre(float(rng.uniform(50, 1950)), float(rng.uniform(50, 1450)));
    cv::Point2f corners[4];
    cv::RotatedRect(centre, {float(rng.uniform(60, 200)), float(rng.uniform(60, 200))}, float(rng.uniform(0, 90))).points(corners);
    std::vector<cv::Point> polygon(corners, corners + 4);
    cv::fillConvexPoly(page, polygon, cv::Scalar(rng.uniform(20, 150)), cv::LINE_AA);
  }
  for (const double sigma_px : {1.0, 2.0, 4.0}) {
    cv::Mat blurred;
    cv::GaussianBlur(page, blurred, {}, sigma_px);
    EXPECT_NEAR(sharper_rise_px(blurred) / (2.5631 * sigma_px), 1, 0.25) << sigma_px;
  }
  EXPECT_EQ(sharper_rise_px(cv::Mat(800, 800, CV_8UC1, cv::Scalar(90))), 0);
}

}  // namespace
}  // namespace papillote::calibration
