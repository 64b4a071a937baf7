#include "stages/calibration/calibration.h"

#include <map>
#include <string>
#include <vector>
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "stages/calibration/card.h"
#include "stages/calibration/codes.h"
#include "stages/calibration/markers.h"
#include "tests/stages/calibration/draw_card.h"

namespace papillote::calibration {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

const Photo kPhoto{"a.jpg", {}, "jpeg", 0, 0, {}, {}};

Calibration of(const cv::Mat& photo, const Options& options = {}) { return calibrate(kPhoto, {photo}, options).value(); }

double away(const Point& a, const Point& b) { return std::hypot(a.x - b.x, a.y - b.y); }

// Geometry against known homographies: turned, tilted, blurred, noisy.
struct Pose {
  double px_per_mm;
  double turned_deg;
  cv::Point2d tilt;
  double blur_px;
};

class KnownPose : public testing::TestWithParam<Pose> {};

TEST_P(KnownPose, CornersAndPlaneAreFound) {
  const Pose& pose = GetParam();
  const cv::Matx33d px_from_mm = draw::turned_and_tilted(pose.px_per_mm, pose.turned_deg, {900, 800}, pose.tilt);
  cv::Mat photo = draw::table(1900, 1700);
  draw::lay(draw::card(), px_from_mm, photo);
  if (pose.blur_px > 0) cv::GaussianBlur(photo, photo, {}, pose.blur_px);
  draw::add_noise(photo, 3, 11);
  cv::Mat grey;
  cv::cvtColor(photo, grey, cv::COLOR_BGR2GRAY);

  const auto markers = find_markers(grey);
  ASSERT_EQ(markers.size(), 4U);
  const double near_px = 0.35 + 0.08 * pose.blur_px;  // blur draws each edge towards the next one
  for (const Marker& m : markers) {
    const auto [x, y] = draw::kMarkerAt_mm[std::size_t(m.id)];
    EXPECT_LT(away(m.corners_px[0], draw::applied(px_from_mm, x, y)), near_px) << m.id;
    EXPECT_LT(away(m.corners_px[2], draw::applied(px_from_mm, x + 15, y + 15)), near_px) << m.id;
  }
  const auto card = locate_card(markers);
  ASSERT_TRUE(card);
  for (const auto& [x, y] : {std::pair{0.0, 0.0}, {110.0, 0.0}, {110.0, 60.0}, {0.0, 60.0}, {55.0, 30.0}}) {
    const Point px = draw::applied(px_from_mm, x, y);
    const Point mm = draw::applied(card->mm_from_px, px.x, px.y);
    EXPECT_LT(away(mm, {x, y}), 0.05);
  }
  const Point left = draw::applied(px_from_mm, 54.5, 30);
  const Point right = draw::applied(px_from_mm, 55.5, 30);
  const Point above = draw::applied(px_from_mm, 55, 29.5);
  const Point below = draw::applied(px_from_mm, 55, 30.5);
  const double area = (right.x - left.x) * (below.y - above.y) - (right.y - left.y) * (below.x - above.x);
  EXPECT_NEAR(card->px_per_mm / std::sqrt(area), 1, 0.002);
  EXPECT_GT(card->confidence, 0.9);
}

INSTANTIATE_TEST_SUITE_P(Poses, KnownPose,
                         testing::Values(Pose{6, 0, {}, 0.8}, Pose{6, 90, {}, 0.8}, Pose{6, 180, {}, 0.8}, Pose{6, 270, {}, 0.8},
                                         Pose{7, 33, {}, 0.5}, Pose{7, -71, {}, 1.5}, Pose{6, 12, {0.001, 0.0007}, 1},
                                         Pose{5, 140, {-0.0008, 0.001}, 1}, Pose{7, 20, {0.0005, 0}, 3.5}, Pose{4, 5, {}, 0.7}));

TEST(Markers, PlainTextureHasNone) {
  cv::Mat noise(900, 1200, CV_8UC1);
  cv::RNG rng(5);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 256);
  EXPECT_THAT(find_markers(noise), IsEmpty());
}

TEST(Markers, AMirroredMarkerIsNoMarker) {
  cv::Mat photo = draw::table(1200, 900);
  draw::lay(draw::card(), draw::turned_and_tilted(8, 0, {100, 100}), photo);
  cv::flip(photo, photo, 1);
  cv::Mat grey;
  cv::cvtColor(photo, grey, cv::COLOR_BGR2GRAY);
  EXPECT_THAT(find_markers(grey), IsEmpty());
}

TEST(Card, AHalfHiddenCardStillGivesTheScale) {
  cv::Mat photo = draw::table(1400, 1000);
  draw::lay(draw::card(), draw::turned_and_tilted(8, 15, {300, 100}), photo);
  const cv::Mat part = photo(cv::Rect(0, 0, 700, 1000)).clone();
  const Calibration calibration = of(part);
  ASSERT_TRUE(calibration.px_per_mm);
  EXPECT_NEAR(*calibration.px_per_mm, 8, 0.05);
  EXPECT_LT(calibration.confidence, 0.95);
}

TEST(Calibrate, TellsLightAndGreys) {
  cv::Mat photo = draw::table(1400, 1000);
  draw::lay(draw::card(), draw::turned_and_tilted(8, 15, {300, 100}), photo);
  const Calibration even = of(photo);
  EXPECT_EQ(even.scale_source, "card");
  for (const double gain : even.gain_rgb) EXPECT_NEAR(gain, 1, 0.02);
  EXPECT_LT(even.grey_error, 1);

  // Lamp light: blue taken down, in linear light, to 70 %.
  cv::Mat table(1, 256, CV_8UC3);
  for (int v = 0; v < 256; ++v) {
    const double linear = v / 255.0 <= 0.04045 ? v / 255.0 / 12.92 : std::pow((v / 255.0 + 0.055) / 1.055, 2.4);
    const double dimmed = 0.7 * linear;
    const double srgb = dimmed <= 0.0031308 ? 12.92 * dimmed : 1.055 * std::pow(dimmed, 1 / 2.4) - 0.055;
    table.at<cv::Vec3b>(v) = {cv::saturate_cast<uchar>(255 * srgb), uchar(v), uchar(v)};
  }
  cv::Mat warm;
  cv::LUT(photo, table, warm);
  const Calibration lamp = of(warm);
  EXPECT_NEAR(lamp.gain_rgb[0], 1, 0.02);
  EXPECT_NEAR(lamp.gain_rgb[2], 1 / 0.7, 0.03);
  EXPECT_LT(lamp.grey_error, 1);
}

TEST(Calibrate, WithoutCardTheScaleIsGivenOrUnknown) {
  cv::Mat photo = draw::table(800, 600);
  draw::add_noise(photo, 4, 2);
  EXPECT_FALSE(of(photo).px_per_mm);
  EXPECT_EQ(of(photo).scale_source, "none");
  EXPECT_EQ(of(photo).gain_rgb, (std::array<double, 3>{1, 1, 1}));
  const Calibration given = of(photo, {.px_per_mm = 11.5});
  EXPECT_EQ(given.px_per_mm, 11.5);
  EXPECT_EQ(given.scale_source, "given");
  EXPECT_FALSE(given.mm_from_px);
}

TEST(Calibrate, NoPixelsIsAFailureThatNamesTheFile) {
  const auto result = calibrate(kPhoto, {}, {});
  ASSERT_FALSE(result.ok());
  EXPECT_THAT(result.failure().reason, HasSubstr("a.jpg"));
}

TEST(Calibrate, TinyPicturesDoNoHarm) {
  for (const cv::Size size : {cv::Size(1, 1), cv::Size(3, 2), cv::Size(40, 1), cv::Size(17, 60)})
    EXPECT_FALSE(of(cv::Mat(size, CV_8UC3, cv::Scalar::all(90))).px_per_mm);
}

TEST(Calibrate, ReadsSheetLabelAndSlips) {
  cv::Mat photo = draw::table(3000, 2000, 150);
  const double px_per_mm = 10;
  draw::lay(draw::card(), draw::turned_and_tilted(px_per_mm, 2, {100, 1300}), photo);
  const auto lay_code = [&](const std::string& text, ZXing::BarcodeFormat format, double module_mm, double turned_deg, cv::Point2d at_px) {
    draw::lay(draw::code(text, format, 10), draw::turned_and_tilted(px_per_mm, turned_deg, at_px), photo, 10 / module_mm);
  };
  lay_code("tin=07;sheet=3;side=back;lamp=left", ZXing::BarcodeFormat::QRCode, 0.7, 4, {2500, 100});
  lay_code("OC-004711", ZXing::BarcodeFormat::DataMatrix, 0.6, 25, {400, 200});
  lay_code("OC-004712", ZXing::BarcodeFormat::DataMatrix, 0.6, -60, {1000, 500});
  lay_code("OC-004713", ZXing::BarcodeFormat::QRCode, 0.4, 100, {1700, 300});
  lay_code("OC-004714", ZXing::BarcodeFormat::DataMatrix, 0.5, 180, {2300, 1700});
  cv::GaussianBlur(photo, photo, {}, 0.9);
  draw::add_noise(photo, 4, 8);

  const Calibration calibration = of(photo);
  ASSERT_TRUE(calibration.sheet);
  EXPECT_EQ(calibration.sheet->tin, "07");
  EXPECT_EQ(calibration.sheet->sheet, "3");
  EXPECT_EQ(calibration.sheet->side, "back");
  EXPECT_EQ(calibration.sheet->more.at("lamp"), "left");
  ASSERT_TRUE(calibration.label_px);
  std::vector<std::string> texts;
  for (const SeenCode& slip : calibration.slips) texts.push_back(slip.text + " " + slip.symbology);
  EXPECT_THAT(texts, testing::UnorderedElementsAre("OC-004711 data_matrix", "OC-004712 data_matrix", "OC-004713 qr", "OC-004714 data_matrix"));
  for (const SeenCode& slip : calibration.slips)
    if (slip.text == "OC-004711") {
      // Its quiet zone is two modules of 0.6 mm, turned by 25 degrees about (400, 200).
      const Point corner = draw::applied(draw::turned_and_tilted(px_per_mm, 25, {400, 200}), 1.2, 1.2);
      EXPECT_LT(away(slip.quad_px[0], corner), 12);
    }
}

TEST(SheetLabel, KeysInAnyOrderUnknownKept) {
  const auto sheet = parse_sheet_label("side=front;sheet=12;tin=07 b;note=;Lamp = left ");
  ASSERT_TRUE(sheet);
  EXPECT_EQ(sheet->tin, "07 b");
  EXPECT_EQ(sheet->sheet, "12");
  EXPECT_EQ(sheet->side, "front");
  EXPECT_EQ(sheet->more, (std::map<std::string, std::string>{{"note", ""}, {"lamp", "left"}}));
  EXPECT_EQ(parse_sheet_label("TIN=1;SHEET=2")->tin, "1");
}

TEST(SheetLabel, OtherTextsAreNone) {
  for (const char* text : {"", "OC-004711", "http://example.org/?tin=4&sheet", "a=b", ";;;", "tin=;sheet="}) EXPECT_FALSE(parse_sheet_label(text)) << text;
}

cv::Mat written_page(double blur_px) {
  cv::Mat photo = draw::table(2000, 1400, 225);
  for (int line = 0; line < 12; ++line)
    cv::putText(photo, "Rio Claro 3. VII. 1911 leg. O. Marsh", {200, 500 + 70 * line}, cv::FONT_HERSHEY_SIMPLEX, 1.1, cv::Scalar::all(40), 3, cv::LINE_AA);
  draw::lay(draw::card(), draw::turned_and_tilted(8, 3, {300, 20}), photo);
  if (blur_px > 0) cv::GaussianBlur(photo, photo, {}, blur_px);
  draw::add_noise(photo, 3, 4);
  return photo;
}

TEST(Quality, BlurIsMeasuredAndAHopelessPhotographSaysSo) {
  double last = 0;
  for (const double sigma : {0.0, 1.0, 2.0, 3.0}) {
    const Quality quality = of(written_page(sigma)).quality;
    EXPECT_GT(quality.sharpness, last) << sigma;
    last = quality.sharpness;
  }
  EXPECT_NEAR(of(written_page(2)).quality.sharpness / (2.5631 * 2), 1, 0.2);  // blurred in sRGB, measured in light
  EXPECT_EQ(of(written_page(0.8)).quality.verdict, "ok");
  const Quality blurred = of(written_page(5)).quality;
  EXPECT_EQ(blurred.verdict, "retake");
  EXPECT_THAT(blurred.reasons, Contains(HasSubstr("blurred")));
}

TEST(Quality, BlurWithoutACardIsToldToo) {
  for (const double sigma : {0.7, 6.0}) {
    const Quality quality = of(written_page(sigma)(cv::Rect(0, 420, 2000, 980)).clone()).quality;
    EXPECT_EQ(quality.verdict, sigma < 1 ? "ok" : "retake") << quality.sharpness;
  }
}

TEST(Quality, ExposureIsJudged) {
  cv::Mat photo = written_page(0.8);
  const Quality good = of(photo).quality;
  EXPECT_LT(good.clipped_light, 0.01);
  EXPECT_THAT(good.reasons, IsEmpty());
  const Quality burnt = of(cv::Mat(photo * 1.5)).quality;
  EXPECT_GT(burnt.clipped_light, 0.5);
  EXPECT_EQ(burnt.verdict, "retake");
  EXPECT_THAT(burnt.reasons, Contains(HasSubstr("overexposed")));
  const Quality dark = of(cv::Mat(photo * 0.15)).quality;
  EXPECT_EQ(dark.verdict, "retake");
  EXPECT_THAT(dark.reasons, Contains(HasSubstr("dark")));
}

}  // namespace
}  // namespace papillote::calibration
