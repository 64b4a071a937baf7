// Many small photographs, no two alike: the sample photographs shrunk, each copy with its own grain.
//
//   copies PHOTOGRAPHS FOLDER COUNT
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <span>
#include <string>
#include <vector>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace {

namespace fs = std::filesystem;
using namespace papillote;

constexpr double kShrink = 1.0 / 8;

std::vector<cv::Mat> small_ones(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".jpg") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  std::vector<cv::Mat> all;
  for (const fs::path& file : files) {
    std::ifstream in(file, std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), {}};
    const auto photo = image::decode(std::as_bytes(std::span(bytes)), file.filename().string());
    if (!photo.ok()) throw std::runtime_error(photo.failure().reason);
    cv::resize(photo->bgr, all.emplace_back(), {}, kShrink, kShrink, cv::INTER_AREA);
  }
  if (all.empty()) throw std::runtime_error(folder.string() + " holds no photographs.");
  return all;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::cerr << "usage: copies PHOTOGRAPHS FOLDER COUNT\n";
    return 2;
  }
  try {
    const std::vector<cv::Mat> originals = small_ones(argv[1]);
    const fs::path folder = argv[2];
    fs::create_directories(folder);
    const int count = std::atoi(argv[3]);
    for (int i = 0; i < count; ++i) {
      const cv::Mat& original = originals[static_cast<std::size_t>(i) % originals.size()];
      cv::Mat grain(original.size(), CV_16SC3);
      cv::RNG(static_cast<std::uint64_t>(i) + 1).fill(grain, cv::RNG::NORMAL, 0, 2);
      cv::Mat copy;
      cv::add(original, grain, copy, cv::noArray(), CV_8U);
      const auto jpeg = image::encode_jpeg(copy, 90);
      std::ofstream(folder / fmt::format("{:06}.jpg", i), std::ios::binary)
          .write(reinterpret_cast<const char*>(jpeg.data()), static_cast<std::streamsize>(jpeg.size()));
    }
  } catch (const std::exception& error) {
    std::cerr << "copies: " << error.what() << '\n';
    return 1;
  }
}
