#include "pipeline/image/image.h"

#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <lcms2.h>

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

// Files in made/ were written by Pillow 9.4 from the picture that four_fields draws.
TEST(MadeElsewhere, PillowsFilesAreRead) {
  const auto read = [](const std::string& name) {
    std::ifstream in(std::filesystem::path(PAPILLOTE_SOURCE_DIR) / "tests/image/made" / name, std::ios::binary);
    return files::bytes_of(std::string(std::istreambuf_iterator<char>(in), {}));
  };
  for (const char* name : {"cmyk.jpg", "cmyk-lzw.tif", "turned.jpg", "srgb-profile.png", "palette.tif"}) {
    const auto image = decode(read(name), name);
    ASSERT_TRUE(image.ok()) << image.failure().reason;
    EXPECT_EQ(corners(image->bgr), "rgbw") << name;
    EXPECT_EQ(image->bgr.size(), cv::Size(48, 32)) << name;
  }
  const auto turned = read_header(read("turned.jpg"), "turned.jpg");
  EXPECT_EQ(turned->taken, "2026-05-01T10:20:30");
  EXPECT_EQ(turned->camera, "Maker Model 1");
  const auto grey = decode_original(read("grey16.tif"), "grey16.tif");
  EXPECT_EQ(grey->pixels.type(), CV_16UC1);
  EXPECT_EQ(grey->pixels.at<std::uint16_t>(3, 3), 90 * 257);
}

// libtiff's own program rewrites a file in every layout; the picture stays the same.
TEST(MadeElsewhere, TiffcpsLayoutsAreRead) {
  if (std::system("command -v tiffcp >/dev/null 2>&1") != 0) {
    std::cout << "tiffcp is not installed: its layouts are skipped\n";
    return;
  }
  const std::filesystem::path folder = std::filesystem::temp_directory_path() / ("papillote-tiffcp-" + std::to_string(::getpid()));
  std::filesystem::create_directory(folder);
  cv::Mat rgb;
  cv::cvtColor(files::four_fields(90, 60), rgb, cv::COLOR_BGR2RGB);
  cv::Mat rgb16;
  rgb.convertTo(rgb16, CV_16U, 257);
  for (const cv::Mat& samples : {rgb, rgb16})
    for (const char* layout : {"-p separate", "-p separate -t -w 32 -l 16", "-8", "-8 -B -c zip", "-c lzw:2 -r 5", "-t -w 48 -l 16 -c zip:2", "-B"}) {
      if (samples.depth() == CV_16U && std::string_view(layout).starts_with("-p")) continue;  // tiffcp parts 8 bits only
      const File file = files::tiff(samples);
      std::ofstream(folder / "in.tif", std::ios::binary).write(reinterpret_cast<const char*>(file.data()), std::streamsize(file.size()));
      ASSERT_EQ(std::system(("tiffcp " + std::string(layout) + " " + (folder / "in.tif").string() + " " + (folder / "out.tif").string()).c_str()), 0);
      std::ifstream in(folder / "out.tif", std::ios::binary);
      const auto image = decode(files::bytes_of(std::string(std::istreambuf_iterator<char>(in), {})), "a");
      ASSERT_TRUE(image.ok()) << layout << image.failure().reason;
      EXPECT_EQ(corners(image->bgr), "rgbw") << layout;
    }
  std::filesystem::remove_all(folder);
}

// Adobe RGB (1998), 4.3: primaries (0.64, 0.33), (0.21, 0.71), (0.15, 0.06), white D65, gamma 563/256. Its colours seen
// in sRGB (IEC 61966-2-1) by the two matrices (from memory of both texts).
TEST(Profile, IsApplied) {
  const cmsCIExyY white{0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries{{0.64, 0.33, 1}, {0.21, 0.71, 1}, {0.15, 0.06, 1}};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 563.0 / 256);
  cmsToneCurve* curves[3]{curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&white, &primaries, curves);
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::vector<unsigned char> icc(size);
  cmsSaveProfileToMem(profile, icc.data(), &size);
  cmsCloseProfile(profile);
  cmsFreeToneCurve(curve);
  for (const int depth : {CV_8U, CV_16U}) {
    cv::Mat rgb(20, 30, CV_8UC3, cv::Scalar(100, 150, 120));
    rgb.convertTo(rgb, depth, depth == CV_16U ? 257 : 1);
    const File file = files::tiff(rgb, {.icc = icc});
    const auto image = decode(file, "a.tif");
    ASSERT_TRUE(image.ok());
    constexpr double kRed = 66;  // linear 0.1276, 0.3113, 0.1906; in sRGB 0.0544, 0.3113, 0.1854
    constexpr double kGreen = 151.4;
    constexpr double kBlue = 119.3;
    const cv::Vec3b seen = image->bgr.at<cv::Vec3b>(10, 10);
    EXPECT_NEAR(seen[2], kRed, 2);
    EXPECT_NEAR(seen[1], kGreen, 2);
    EXPECT_NEAR(seen[0], kBlue, 2);
    const auto original = decode_original(file, "a.tif");
    EXPECT_EQ(original->pixels.depth(), depth);
    EXPECT_EQ(original->icc.size(), icc.size());
    EXPECT_NEAR(cv::mean(original->pixels)[2], depth == CV_16U ? 100 * 257 : 100, 0.1) << "the archive keeps what the file holds";
  }
}

// A raw file of the DNG specification (1.4), its mosaic red, green / green, blue.
TEST(Raw, IsDevelopedAndTurned) {
  for (const int orientation : {1, 6}) {
    const File file = files::dng(96, 64, orientation);
    const auto header = read_header(file, "a.DNG");
    ASSERT_TRUE(header.ok()) << header.failure().reason;
    EXPECT_EQ(header->format, "raw");
    EXPECT_EQ(cv::Size(header->width_px, header->height_px), orientation == 1 ? cv::Size(96, 64) : cv::Size(64, 96));
    const auto image = decode(file, "a.DNG");
    ASSERT_TRUE(image.ok()) << image.failure().reason;
    EXPECT_EQ(image->bgr.size(), cv::Size(header->width_px, header->height_px));
    EXPECT_EQ(corners(image->bgr), orientation == 1 ? "rgbw" : "brwg");
  }
  EXPECT_FALSE(decode(files::bytes_of("II*\0 this is no raw file"), "a.dng").ok());
  const File whole = files::dng(96, 64, 1);
  for (const std::size_t size : {std::size_t{10}, std::size_t{100}, whole.size() / 2}) EXPECT_FALSE(decode(std::span(whole).first(size), "a.dng").ok()) << size;
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
