// Archive files, read back by libtiff's own program and by the project's decoder.
#include "pipeline/image/archive_tiff.h"

#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/image/image.h"
#include "tests/image/files.h"

namespace papillote::image {
namespace {

using testing::ContainsRegex;
using testing::HasSubstr;

const ArchiveTags kTags{"urn:uuid:1", "Envelope 1 cut from a.jpg", "2026-05-01T10:20:30", "Maker Model", "https://creativecommons.org/licenses/by/4.0/",
                        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"/>", Point{20, 19.5}, {}};

// Empty when tiffinfo is not there.
std::string tiffinfo(const std::string& bytes) {
  if (std::system("command -v tiffinfo >/dev/null 2>&1") != 0) {
    std::cout << "tiffinfo is not installed: reading back with it is skipped\n";
    return "";
  }
  const auto stem = std::filesystem::temp_directory_path() / ("papillote-tiffinfo-" + std::to_string(::getpid()));
  std::ofstream(stem.string() + ".tif", std::ios::binary) << bytes;
  EXPECT_EQ(std::system(("tiffinfo -D " + stem.string() + ".tif > " + stem.string() + ".txt 2>&1").c_str()), 0);
  std::ifstream in(stem.string() + ".txt");
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  std::filesystem::remove(stem.string() + ".tif");
  std::filesystem::remove(stem.string() + ".txt");
  return text;
}

// TIFF 6.0 (1992), the tags that an RGB file must carry and those that an archive adds; Metamorfoze and 36 CFR 1236.48 allow
// Deflate. Resolution must be true to the scale: 20 px/mm are 200 px/cm.
TEST(ArchiveTiff, CarriesItsTags) {
  const auto file = archive_tiff(files::four_fields(300, 200), kTags);
  ASSERT_TRUE(file.ok());
  const std::string said = tiffinfo(*file);
  if (said.empty()) return;
  EXPECT_THAT(said, HasSubstr("Image Width: 300 Image Length: 200"));
  EXPECT_THAT(said, HasSubstr("Resolution: 200, 195 pixels/cm"));
  EXPECT_THAT(said, HasSubstr("Bits/Sample: 8"));
  EXPECT_THAT(said, HasSubstr("Compression Scheme: AdobeDeflate"));
  EXPECT_THAT(said, HasSubstr("Photometric Interpretation: RGB color"));
  EXPECT_THAT(said, HasSubstr("Samples/Pixel: 3"));
  EXPECT_THAT(said, ContainsRegex("Rows/Strip: [0-9]+"));
  EXPECT_THAT(said, HasSubstr("Orientation: row 0 top, col 0 lhs"));
  EXPECT_THAT(said, HasSubstr("DocumentName: urn:uuid:1"));
  EXPECT_THAT(said, HasSubstr("ImageDescription: Envelope 1 cut from a.jpg"));
  EXPECT_THAT(said, HasSubstr("DateTime: 2026:05:01 10:20:30"));
  EXPECT_THAT(said, HasSubstr("Software: papillote"));
  EXPECT_THAT(said, HasSubstr("Copyright: https://creativecommons.org"));
  EXPECT_THAT(said, HasSubstr("ICC Profile: <present>"));
  EXPECT_THAT(said, HasSubstr("XMLPacket"));
  EXPECT_THAT(said, testing::Not(HasSubstr("Warning")));
}

TEST(ArchiveTiff, ClaimsNoUnitWithoutAScale) {
  ArchiveTags tags = kTags;
  tags.px_per_mm.reset();
  const std::string said = tiffinfo(*archive_tiff(files::four_fields(30, 20), tags));
  if (said.empty()) return;
  EXPECT_THAT(said, HasSubstr("Resolution: 1, 1 (unitless)"));
}

TEST(ArchiveTiff, KeepsEverySampleAtItsDepth) {
  cv::Mat colour(130, 170, CV_16UC3);
  cv::Mat grey(130, 170, CV_16UC1);
  cv::RNG rng(5);
  rng.fill(colour, cv::RNG::UNIFORM, 0, 65536);
  rng.fill(grey, cv::RNG::UNIFORM, 0, 65536);
  cv::Mat colour8;
  colour.convertTo(colour8, CV_8U, 1 / 257.0);
  for (const cv::Mat& pixels : {colour, grey, colour8}) {
    const auto file = archive_tiff(pixels, kTags);
    ASSERT_TRUE(file.ok());
    const auto back = decode_original(std::as_bytes(std::span(*file)), "a.tif");
    ASSERT_TRUE(back.ok()) << back.failure().reason;
    ASSERT_EQ(back->pixels.type(), pixels.type());
    EXPECT_EQ(cv::norm(back->pixels, pixels, cv::NORM_INF), 0);
  }
}

// From the photograph's file to the archive's: 16 bits stay 16 bits, by libtiff's own word, sample for sample; a JPEG has 8.
TEST(ArchiveTiff, HasTheDepthOfThePhotographsFile) {
  cv::Mat noise(120, 160, CV_16UC3);
  cv::RNG rng(6);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 65536);
  cv::Mat rgb, grey, clear, noise8;
  cv::cvtColor(noise, rgb, cv::COLOR_BGR2RGB);
  cv::extractChannel(noise, grey, 0);
  cv::cvtColor(noise, clear, cv::COLOR_BGR2BGRA);
  cv::Mat opaque = cv::Mat::zeros(noise.size(), CV_16U);
  opaque.colRange(0, 80).setTo(65535);
  cv::insertChannel(opaque, clear, 3);
  noise.convertTo(noise8, CV_8U, 1 / 257.0);
  cv::Mat on_white = noise.clone();
  on_white.colRange(80, 160).setTo(cv::Scalar::all(65535));
  const struct {
    const char* name;
    files::File file;
    int bits;
    cv::Mat samples;  // what must be read back; empty where the file does not hold them as such
  } cases[]{{"a.png", files::png16(noise), 16, noise},
            {"grey.png", files::png16(grey), 16, grey},
            {"clear.png", files::png16(clear), 16, on_white},
            {"eight.png", files::png(noise8), 8, noise8},
            {"a.tif", files::tiff(rgb), 16, noise},
            {"a.dng", files::dng(160, 120, 1), 16, {}},
            {"a.jpg", files::jpeg(noise8), 8, {}}};
  for (const auto& [name, bytes, bits, samples] : cases) {
    const auto original = decode_original(bytes, name);
    ASSERT_TRUE(original.ok()) << original.failure().reason;
    const auto file = archive_tiff(rectify(original->pixels, {Point{0, 0}, {160, 0}, {160, 120}, {0, 120}}, {160, 120}), kTags);
    ASSERT_TRUE(file.ok()) << name;
    const auto back = decode_original(std::as_bytes(std::span(*file)), "back.tif");
    ASSERT_TRUE(back.ok()) << name;
    if (!samples.empty()) {
      EXPECT_EQ(cv::norm(back->pixels, samples, cv::NORM_INF), 0) << name;
    }
    const std::string said = tiffinfo(*file);
    if (!said.empty()) {
      EXPECT_THAT(said, HasSubstr("Bits/Sample: " + std::to_string(bits))) << name;
    }
  }
  const files::File whole = files::png16(noise);
  for (const double share : {0.005, 0.3, 0.99}) {
    const auto cut = decode_original(std::span(whole).first(std::size_t(double(whole.size()) * share)), "cut.png");
    ASSERT_FALSE(cut.ok());
    EXPECT_EQ(cut.failure().kind, "truncated") << cut.failure().reason;
  }
  files::File damaged = whole;
  for (std::size_t i = 0; i < 100; ++i) damaged[damaged.size() / 2 + i] = std::byte{0};
  EXPECT_EQ(decode_original(damaged, "bad.png").failure().kind, "unreadable");
}

TEST(ArchiveTiff, LargePicturesAreTiledWithReducedOnesBehind) {
  cv::Mat pixels(900, 2500, CV_8UC3, cv::Scalar(10, 100, 200));
  pixels(cv::Rect(0, 0, 1250, 450)).setTo(cv::Scalar(0, 0, 0));
  const auto file = archive_tiff(pixels, kTags);
  ASSERT_TRUE(file.ok());
  const auto back = decode_original(std::as_bytes(std::span(*file)), "a.tif");
  ASSERT_TRUE(back.ok());
  EXPECT_EQ(cv::norm(back->pixels, pixels, cv::NORM_INF), 0);
  const std::string said = tiffinfo(*file);
  if (said.empty()) return;
  EXPECT_THAT(said, HasSubstr("Tile Width: 256 Tile Length: 256"));
  for (const char* size : {"Image Width: 2500 Image Length: 900", "Image Width: 1250 Image Length: 450", "Image Width: 625 Image Length: 225",
                           "Image Width: 313 Image Length: 113"})
    EXPECT_THAT(said, HasSubstr(size));
  EXPECT_THAT(said, HasSubstr("Subfile Type: reduced-resolution image"));
  EXPECT_THAT(said, HasSubstr("Resolution: 100, 97.5 pixels/cm")) << "the reduced picture says its own scale";
}

TEST(ArchiveTiff, SamePictureSameBytes) {
  EXPECT_TRUE(*archive_tiff(files::four_fields(300, 200), kTags) == *archive_tiff(files::four_fields(300, 200), kTags));
  EXPECT_FALSE(archive_tiff(cv::Mat(), kTags).ok());
}

}  // namespace
}  // namespace papillote::image
