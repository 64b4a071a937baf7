// Photographs with a known fault: each measure must tell it and none of the others may cry out.
#include "stages/calibration/capture_check.h"

#include <cmath>
#include <opencv2/calib3d.hpp>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "stages/calibration/calibration.h"
#include "tests/stages/calibration/draw_card.h"

namespace papillote::calibration {
namespace {

using testing::HasSubstr;

constexpr double kPx_per_mm = 16;

// A card on a brown table, turned a little.
cv::Mat photograph(double turned_deg = 4) {
  cv::Mat photo(2000, 2800, CV_8UC3, cv::Scalar(90, 120, 140));
  draw::lay(draw::card(), draw::turned_and_tilted(kPx_per_mm, turned_deg, {400, 400}), photo);
  return photo;
}

CaptureMeasures of(const cv::Mat& photo, const std::vector<Lab>& patches = {}) {
  const Calibration calibration = calibrate({"a.jpg", {}, "jpeg", 0, 0, {}, {}}, {photo}, {}).value();
  return measure_capture(calibration, {photo}, patches);
}

// A lens blurs light, not the levels of sRGB.
cv::Mat blurred_as_light(const cv::Mat& photo, double sigma) {
  cv::Mat light;
  photo.convertTo(light, CV_32F, 1 / 255.0);
  const auto each = [&](auto change) {
    for (auto at = light.begin<cv::Vec3f>(); at != light.end<cv::Vec3f>(); ++at)
      for (int c = 0; c < 3; ++c) (*at)[c] = static_cast<float>(change((*at)[c]));
  };
  each([](double v) { return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4); });
  cv::GaussianBlur(light, light, {}, sigma);
  each([](double v) { return v <= 0.0031308 ? v * 12.92 : 1.055 * std::pow(v, 1 / 2.4) - 0.055; });
  cv::Mat out;
  light.convertTo(out, CV_8U, 255);
  return out;
}

TEST(CaptureCheck, AGoodPhotographMeasuresWell) {
  const CaptureMeasures m = of(photograph());
  ASSERT_TRUE(m.px_per_inch && m.response && m.white_balance && m.unevenness_percent && m.misregistration_px && m.distortion_percent);
  EXPECT_NEAR(*m.px_per_inch, kPx_per_mm * 25.4, 1);
  EXPECT_LT(*m.misregistration_px, 0.1);
  EXPECT_LT(*m.distortion_percent, 0.1);
  EXPECT_LT(*m.white_balance, 1);
  EXPECT_LT(*m.tone_error, 1);
  EXPECT_LT(*m.unevenness_percent, 1);
  EXPECT_TRUE(m.glare.empty());
  EXPECT_FALSE(m.mean_colour_error) << "nobody measured the patches";
}

// Gaussian blur of sigma s: MTF50 = 0.18739 / s (derived; slanted_edge_checks.csv). The drawn edge has a blur of its own: a
// pixel wide, about 0.3 px as sigma; variances add.
TEST(CaptureCheck, KnownBlurHasItsResponse) {
  for (const double sigma : {1.0, 1.5, 2.5}) {
    const CaptureMeasures m = of(blurred_as_light(photograph(), sigma));
    ASSERT_TRUE(m.response);
    EXPECT_NEAR(m.response->mtf50_cy_per_px * std::hypot(sigma, 0.3) / 0.18739, 1, 0.05) << sigma;
  }
}

TEST(CaptureCheck, TellsColourCastShiftNoiseAndUnevenLight) {
  cv::Mat cast = photograph();
  cv::multiply(cast, cv::Scalar(0.85, 1, 1), cast);
  EXPECT_GT(*of(cast).white_balance, 5);

  cv::Mat shifted = photograph();
  std::vector<cv::Mat> planes;
  cv::split(shifted, planes);
  cv::warpAffine(planes[0], planes[0], cv::Matx23d(1, 0, 1.5, 0, 1, 0), planes[0].size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::merge(planes, shifted);
  const double seen = *of(shifted).misregistration_px;  // upright edges 1.5 px, level ones none: the median lies between
  EXPECT_GT(seen, 0.05);
  EXPECT_LT(seen, 1.6);

  cv::Mat noisy = photograph();
  draw::add_noise(noisy, 8, 3);
  EXPECT_GT(*of(noisy).noise, 1.6);

  cv::Mat uneven = photograph();
  for (int x = 0; x < uneven.cols; ++x) uneven.col(x) *= 1 - 0.2 * x / uneven.cols;
  EXPECT_GT(*of(uneven).unevenness_percent, 10);
}

// A lens that draws the picture in: what stands at `seen` came from seen * (1 + k r^2) about the middle, r in half diagonals.
struct Lens {
  double k;
  cv::Point2d middle{1400, 1000};
  [[nodiscard]] cv::Point2d from(cv::Point2d seen) const {
    const cv::Point2d d = seen - middle;
    return middle + d * (1 + k * d.dot(d) / middle.dot(middle));
  }
  [[nodiscard]] cv::Point2d seen(cv::Point2d true_px) const {
    cv::Point2d at = true_px;
    for (int i = 0; i < 50; ++i) at += true_px - from(at);
    return at;
  }
  [[nodiscard]] cv::Mat photograph_of(const cv::Mat& photo) const {
    cv::Mat map(photo.size(), CV_32FC2), out;
    for (int y = 0; y < map.rows; ++y)
      for (int x = 0; x < map.cols; ++x) map.at<cv::Vec2f>(y, x) = cv::Vec2f(cv::Point2f(from({x + 0.5, y + 0.5}) - cv::Point2d(0.5, 0.5)));
    cv::remap(photo, out, map, {}, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
    return out;
  }
};

// Where the corners of the markers must stand follows from the lens; how far they then lie from the plane that fits them best, from
// OpenCV's least squares on those places. The photograph is not looked at for it.
double true_distortion_percent(const Lens& lens, double turned_deg) {
  const cv::Matx33d px_from_mm = draw::turned_and_tilted(kPx_per_mm, turned_deg, {400, 400});
  std::vector<cv::Point2d> on_card, in_photo, on_plane;
  for (const Point& marker : draw::kMarkerAt_mm)
    for (const auto& [x, y] : {std::pair{0.0, 0.0}, {15.0, 0.0}, {15.0, 15.0}, {0.0, 15.0}}) {
      const Point px = draw::applied(px_from_mm, marker.x + x, marker.y + y);
      on_card.emplace_back(marker.x + x, marker.y + y);
      in_photo.push_back(lens.seen({px.x, px.y}));
    }
  cv::perspectiveTransform(on_card, on_plane, cv::findHomography(on_card, in_photo, 0));
  double most = 0;
  for (std::size_t i = 0; i < on_plane.size(); ++i) most = std::max(most, cv::norm(on_plane[i] - in_photo[i]));
  constexpr double kCardLength_mm = 110;
  return 100 * most / kPx_per_mm / kCardLength_mm;
}

TEST(CaptureCheck, KnownDistortionIsMeasured) {
  for (const double k : {-0.06, 0.04, 0.12}) {
    const Lens lens{k};
    const double truth = true_distortion_percent(lens, 4);
    ASSERT_GT(truth, 0.1) << k;
    const CaptureMeasures m = of(lens.photograph_of(photograph()));
    ASSERT_TRUE(m.distortion_percent) << k;
    EXPECT_NEAR(*m.distortion_percent / truth, 1, 0.1) << k << ": " << truth;
  }
}

TEST(CaptureCheck, ColourErrorNeedsMeasuredPatches) {
  std::vector<Lab> patches;
  for (const auto& rgb : draw::kPatches_rgb) {
    std::array<double, 3> light{};
    for (std::size_t c = 0; c < 3; ++c) {
      const double v = rgb[c] / 255.0;
      light[c] = v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
    }
    patches.push_back(lab_of_linear_rgb(light));
  }
  const CaptureMeasures right = of(photograph(), patches);
  ASSERT_TRUE(right.mean_colour_error);
  EXPECT_LT(*right.mean_colour_error, 0.5);
  patches[8].a += 20;
  EXPECT_GT(*of(photograph(), patches).most_colour_error, 5);
}

TEST(CaptureCheck, FindsGlintsButNoWhitePaper) {
  cv::Mat photo = photograph();
  cv::rectangle(photo, cv::Rect(1950, 1100, 800, 700), cv::Scalar::all(252), cv::FILLED);  // an overexposed sheet
  EXPECT_TRUE(of(photo).glare.empty());
  cv::ellipse(photo, cv::Point(1200, 1700), cv::Size(60, 25), 20, 0, 360, cv::Scalar::all(255), cv::FILLED);
  const auto glare = of(photo).glare;
  ASSERT_EQ(glare.size(), 1U);
  EXPECT_NEAR(glare[0].area_mm2, CV_PI * 60 * 25 / (kPx_per_mm * kPx_per_mm), 6) << "its rim is half burnt out";
}

TEST(CaptureCheck, NamesTheSoftCorner) {
  cv::Mat photo = photograph();
  cv::RNG rng(3);
  for (int i = 0; i < 500; ++i)
    cv::rectangle(photo, cv::Rect(rng.uniform(0, 2700), rng.uniform(1400, 1950), rng.uniform(20, 60), rng.uniform(20, 60)), cv::Scalar::all(rng.uniform(20, 230)), cv::FILLED);
  EXPECT_EQ(soft_field(of(photo)), "");
  cv::Mat corner = photo(cv::Rect(1867, 1334, 933, 666));
  cv::GaussianBlur(corner.clone(), corner, {}, 6);
  EXPECT_EQ(soft_field(of(photo)), "lower right");
}

TEST(CaptureCheck, SaysNothingOfWhatItCannotMeasure) {
  const CaptureMeasures m = of(cv::Mat(600, 800, CV_8UC3, cv::Scalar(90, 120, 140)));
  EXPECT_FALSE(m.px_per_inch || m.response || m.white_balance || m.mean_colour_error);
  for (const Aim& aim : beside_aims(m)) EXPECT_EQ(aim.metric, "evenness of light");
  EXPECT_TRUE(beside_aims({}).empty());
}

}  // namespace
}  // namespace papillote::calibration
