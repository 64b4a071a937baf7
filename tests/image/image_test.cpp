#include "pipeline/image/image.h"

#include <array>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/image/files.h"

namespace papillote::image {
namespace {

using files::File;
using testing::HasSubstr;
using testing::StartsWith;

// Mean colour of a field near one corner of the picture: 'r', 'g', 'b', 'w', or '?'.
char colour_at(const cv::Mat& bgr, double x, double y) {
  const cv::Point centre(int(x * bgr.cols), int(y * bgr.rows));
  const cv::Scalar mean = cv::mean(bgr(cv::Rect(centre - cv::Point(2, 2), cv::Size(5, 5))));
  const bool b = mean[0] > 200;
  const bool g = mean[1] > 200;
  const bool r = mean[2] > 200;
  if (r && g && b) return 'w';
  if (r && !g && !b) return 'r';
  if (g && !r && !b) return 'g';
  if (b && !r && !g) return 'b';
  return '?';
}

std::string corners(const cv::Mat& bgr) {
  return {colour_at(bgr, .25, .25), colour_at(bgr, .75, .25), colour_at(bgr, .25, .75), colour_at(bgr, .75, .75)};
}

TEST(Decode, JpegPngAndTiffGiveTheSamePicture) {
  const cv::Mat picture = files::four_fields(120, 80);
  cv::Mat rgb;
  cv::cvtColor(picture, rgb, cv::COLOR_BGR2RGB);
  for (const auto& [file, format] : {std::pair{files::jpeg(picture), "jpeg"}, {files::png(picture), "png"}, {files::tiff(rgb), "tiff"}}) {
    const auto header = read_header(file, "a");
    ASSERT_TRUE(header.ok()) << header.failure().reason;
    EXPECT_EQ(header->format, format);
    EXPECT_EQ(header->width_px, 120);
    EXPECT_EQ(header->height_px, 80);
    const auto image = decode(file, "a");
    ASSERT_TRUE(image.ok()) << image.failure().reason;
    EXPECT_EQ(image->bgr.type(), CV_8UC3);
    EXPECT_EQ(image->bgr.size(), cv::Size(120, 80));
    EXPECT_EQ(corners(image->bgr), "rgbw") << format;
  }
}

TEST(Decode, GreyAndSixteenBitAndCmykAndTiles) {
  cv::Mat grey8(60, 90, CV_8UC1, cv::Scalar(90));
  cv::Mat grey16(60, 90, CV_16UC1, cv::Scalar(90 * 257));
  const cv::Mat picture = files::four_fields(90, 60);
  cv::Mat rgb;
  cv::cvtColor(picture, rgb, cv::COLOR_BGR2RGB);
  cv::Mat rgb16;
  rgb.convertTo(rgb16, CV_16U, 257);
  cv::Mat cmyk;  // no black: ink is what light lacks
  cv::Mat none = cv::Mat::zeros(rgb.size(), CV_8UC1);
  std::vector<cv::Mat> planes;
  cv::split(cv::Scalar::all(255) - rgb, planes);
  planes.resize(3), planes.push_back(none);
  cv::merge(planes, cmyk);

  for (const File& file : {files::png(grey16), files::tiff(grey8, {.photometric = PHOTOMETRIC_MINISBLACK}),
                           files::tiff(grey16, {.photometric = PHOTOMETRIC_MINISBLACK, .compression = COMPRESSION_LZW})}) {
    const auto image = decode(file, "a");
    ASSERT_TRUE(image.ok()) << image.failure().reason;
    EXPECT_NEAR(cv::mean(image->bgr)[0], 90, 1.5);
    EXPECT_NEAR(cv::mean(image->bgr)[2], 90, 1.5);
  }
  for (const File& file :
       {files::tiff(rgb, {.tile_px = 32}), files::tiff(rgb16, {.tile_px = 16}), files::tiff(rgb16, {.compression = COMPRESSION_NONE}),
        files::tiff(cmyk, {.photometric = PHOTOMETRIC_SEPARATED}), files::tiff(cmyk, {.tile_px = 64, .photometric = PHOTOMETRIC_SEPARATED})}) {
    const auto image = decode(file, "a");
    ASSERT_TRUE(image.ok()) << image.failure().reason;
    EXPECT_EQ(corners(image->bgr), "rgbw");
  }
}

// EXIF 2.3 (CIPA DC-008), tag 0x0112, table of the eight values: where row 0 and column 0 are to be seen. The stored
// picture has red upper left, green upper right, blue lower left, white lower right.
TEST(Decode, TurnsAllEightOrientationsUpright) {
  const std::array<std::string, 8> upright{"rgbw", "grwb", "wbgr", "bwrg", "rbgw", "brwg", "wgbr", "gwrb"};
  const File stored = files::jpeg(files::four_fields(96, 64));
  cv::Mat rgb;
  cv::cvtColor(files::four_fields(96, 64), rgb, cv::COLOR_BGR2RGB);
  for (int orientation = 1; orientation <= 8; ++orientation) {
    const cv::Size size = orientation < 5 ? cv::Size(96, 64) : cv::Size(64, 96);
    for (const File& file : {files::with_exif(stored, orientation), files::tiff(rgb, {.orientation = std::uint16_t(orientation)})}) {
      const auto header = read_header(file, "a");
      ASSERT_TRUE(header.ok());
      EXPECT_EQ(header->orientation, orientation);
      EXPECT_EQ(cv::Size(header->width_px, header->height_px), size);
      const auto image = decode(file, "a");
      ASSERT_TRUE(image.ok());
      EXPECT_EQ(image->bgr.size(), size);
      EXPECT_EQ(corners(image->bgr), upright[std::size_t(orientation - 1)]) << orientation;
    }
  }
}

TEST(Decode, NonsenseOrientationIsTakenAsUpright) {
  const auto header = read_header(files::with_exif(files::jpeg(files::four_fields(96, 64)), 77), "a");
  ASSERT_TRUE(header.ok());
  EXPECT_EQ(header->orientation, 1);
}

TEST(Header, TimeTakenIsIso8601) {
  const File file = files::with_exif(files::jpeg(files::four_fields(32, 32)), 1, "2026:05:01 10:20:30");
  EXPECT_EQ(read_header(file, "a")->taken, "2026-05-01T10:20:30");
  EXPECT_EQ(read_header(files::with_exif(file, 1, "0000:00:00 00:00:00"), "a")->taken, "");
}

TEST(BadFile, EveryTruncationIsAFailureThatNamesTheFile) {
  cv::Mat noise(300, 400, CV_8UC3);
  cv::RNG rng(7);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 256);
  for (const File& whole : {files::jpeg(noise), files::png(noise), files::tiff(noise)}) {
    ASSERT_TRUE(decode(whole, "a").ok());
    for (const double share : {0.02, 0.3, 0.7, 0.99}) {
      const File cut(whole.begin(), whole.begin() + std::ptrdiff_t(double(whole.size()) * share));
      const auto image = decode(cut, "IMG_0001.JPG");
      ASSERT_FALSE(image.ok()) << share;
      EXPECT_EQ(image.failure().kind, "truncated") << image.failure().reason << " " << share;
      EXPECT_THAT(image.failure().reason, StartsWith("IMG_0001.JPG: "));
      EXPECT_FALSE(image.failure().remedy.empty());
    }
  }
}

TEST(BadFile, DamageInsideIsAFailure) {
  cv::Mat noise(300, 400, CV_8UC3);
  cv::RNG rng(7);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 256);
  File file = files::png(noise);
  for (std::size_t i = 0; i < 100; ++i) file[file.size() / 2 + i] = std::byte{0};
  EXPECT_EQ(decode(file, "a").failure().kind, "unreadable");
}

TEST(BadFile, StrayBytesBeforeAMarkerAreNoDamage) {
  File file = files::jpeg(files::four_fields(64, 64));
  file.insert(file.end() - 2, 6, std::byte{0});
  EXPECT_TRUE(decode(file, "a").ok());
}

TEST(BadFile, NotAnImage) {
  for (const std::string text : {"", "x", "%PDF-1.7 something", "II", "GIF89a"}) {
    const auto header = read_header(files::bytes_of(text), "notes.txt");
    ASSERT_FALSE(header.ok());
    EXPECT_EQ(header.failure().kind, "not_an_image");
    EXPECT_THAT(header.failure().reason, StartsWith("notes.txt: "));
  }
}

TEST(BadFile, HeaderOnlyFilesFail) {
  for (const std::string_view text : {std::string_view("\xff\xd8\xff\xe0", 4), std::string_view("\x89PNG\r\n\x1a\n", 8),
                                      std::string_view("II*\0\x08\0\0\0", 8), std::string_view("MM\0*\xff\xff\xff\xff", 8)}) {
    const auto image = decode(files::bytes_of(text), "a");
    ASSERT_FALSE(image.ok());
    EXPECT_EQ(image.failure().kind, "truncated") << image.failure().reason;
  }
}

// A file of a few hundred bytes may claim 30,000 x 30,000 pixels; it must be refused before 2.7 GB are asked for.
TEST(BadFile, ClaimsOfHugeSizeAreRefused) {
  File jpeg = files::jpeg(files::four_fields(64, 64));
  for (std::size_t i = 0; i + 9 < jpeg.size(); ++i)
    if (jpeg[i] == std::byte{0xff} && jpeg[i + 1] == std::byte{0xc0}) {
      const unsigned side = 30'000;
      jpeg[i + 5] = jpeg[i + 7] = std::byte(side >> 8);
      jpeg[i + 6] = jpeg[i + 8] = std::byte(side & 255);
      break;
    }
  const auto header = read_header(jpeg, "bomb.jpg");
  ASSERT_FALSE(header.ok());
  EXPECT_EQ(header.failure().kind, "too_large");
  EXPECT_THAT(header.failure().reason, HasSubstr("30000 x 30000"));
  EXPECT_EQ(decode(jpeg, "bomb.jpg").failure().kind, "too_large");
  EXPECT_EQ(decode(files::png(files::four_fields(64, 64)), "a", {.most_megapixels = 0.001}).failure().kind, "too_large");
}

TEST(Rectify, CutsOutTheQuadUpright) {
  const Image photo{files::four_fields(400, 300)};
  // The picture turned a quarter: its lower left corner becomes the upper left of the cut-out.
  const Crop crop{{{{0, 300}, {0, 0}, {400, 0}, {400, 300}}}, 300, 400};
  EXPECT_EQ(corners(rectify(photo, crop)), "brwg");
  EXPECT_EQ(corners(rectify(photo, Quad{{{0, 0}, {400, 0}, {400, 300}, {0, 300}}}, {40, 30})), "rgbw");
}

TEST(Rectify, ScaleOneIsThePictureItself) {
  cv::Mat noise(60, 80, CV_8UC3);
  cv::RNG rng(3);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 256);
  const Crop crop{{{{10, 20}, {60, 20}, {60, 50}, {10, 50}}}, 50, 30};
  EXPECT_LE(cv::norm(rectify({noise}, crop), noise(cv::Rect(10, 20, 50, 30)), cv::NORM_INF), 1);
}

TEST(Rectify, KeepsPlaceWhenItShrinks) {
  cv::Mat ramp(400, 400, CV_8UC3);
  for (int x = 0; x < 400; ++x) ramp.col(x) = cv::Scalar::all(x / 2);
  const cv::Mat small = rectify({ramp}, Quad{{{40, 40}, {360, 40}, {360, 360}, {40, 360}}}, {64, 64});
  // Column i covers 40 + 5i ... 45 + 5i of the photograph: mean (40 + 5i + 2) / 2 before rounding down.
  for (int i = 0; i < 64; ++i) EXPECT_NEAR(small.at<cv::Vec3b>(32, i)[0], (42 + 5 * i) / 2.0 - 0.25, 1.0) << i;
}

TEST(Rectify, OutsideIsFilledFromTheEdgeAndNonsenseIsEmpty) {
  const Image photo{cv::Mat(50, 50, CV_8UC3, cv::Scalar(10, 20, 30))};
  const cv::Mat cut = rectify(photo, Quad{{{-20, -20}, {30, -20}, {30, 30}, {-20, 30}}}, {50, 50});
  EXPECT_EQ(cut.at<cv::Vec3b>(0, 0), cv::Vec3b(10, 20, 30));
  EXPECT_TRUE(rectify(photo, Crop{}).empty());
}

TEST(CropFromPhoto, CarriesCornersToCorners) {
  const Crop crop{{{{10, 20}, {110, 30}, {100, 90}, {5, 80}}}, 200, 100};
  const Polygon corners_px(crop.quad_px.begin(), crop.quad_px.end());
  const Polygon in_crop = carried(corners_px, crop_from_photo(crop));
  const std::array<Point, 4> want{{{0, 0}, {200, 0}, {200, 100}, {0, 100}}};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR(in_crop[i].x, want[i].x, 1e-4);
    EXPECT_NEAR(in_crop[i].y, want[i].y, 1e-4);
  }
}

}  // namespace
}  // namespace papillote::image
