// What finding and judging cost: envelopes, outlines, lines and condition on one photograph of two sample sheets, 23.5 megapixels with 29 envelopes.
//
//   finding_benchmark PHOTOGRAPHS
//
// Core-seconds of each part, beside decoding the same photograph as a JPEG in the same run, and the most memory held.
#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <opencv2/core/utility.hpp>
#include <span>
#include <string>
#include <vector>

#include "models/crop_net.h"
#include "models/library.h"
#include "pipeline/image/image.h"
#include "stages/condition/condition.h"
#include "stages/lines/lines.h"
#include "stages/registration/portrait.h"
#include "stages/segmentation/segmentation.h"

namespace {

namespace fs = std::filesystem;
using namespace papillote;

constexpr int kRounds = 5;

double core_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return double(now.tv_sec) + 1e-9 * double(now.tv_nsec);
}

template <class Work>
double median_of_rounds(Work work) {
  std::vector<double> taken;
  for (int round = 0; round < kRounds; ++round) {
    const double before = core_seconds();
    work();
    taken.push_back(core_seconds() - before);
  }
  std::sort(taken.begin(), taken.end());
  return taken[kRounds / 2];
}

template <class T>
T must(Result<T> result) {
  if (!result.ok()) throw std::runtime_error(result.failure().reason);
  return std::move(result).value();
}

image::Image decoded(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  return must(image::decode(std::as_bytes(std::span(bytes)), file.filename().string()));
}

void run(const fs::path& folder) {
  image::Image photo;
  cv::vconcat(decoded(folder / "tin01-sheet1-front.jpg").bgr, decoded(folder / "tin02-sheet1.jpg").bgr, photo.bgr);
  const std::vector<std::byte> jpeg = image::encode_jpeg(photo.bgr, 90);
  const auto finder = must(segmentation::Finder::open(models::models_folder()));
  const auto net = must(models::CropNet::open(models::models_folder(), "lines"));
  const auto damage = must(models::CropNet::open(models::models_folder(), "damage"));
  Photo told;
  told.path = "two sheets";
  Calibration calibration;
  calibration.px_per_mm = 10;

  const double decoding = median_of_rounds([&] { (void)must(image::decode(jpeg, told.path)); });
  std::vector<EnvelopeOutline> found;
  const double envelopes =
      median_of_rounds([&] { found = must(segmentation::find_envelopes(told, calibration, photo, finder, {})); });
  std::vector<LineLayout> written;
  const double writing = median_of_rounds([&] {
    written.clear();
    for (const EnvelopeOutline& envelope : found) written.push_back(must(lines::find_lines(envelope, calibration, photo, net)));
  });
  std::size_t lines = 0;
  for (const LineLayout& layout : written) lines += layout.lines.size();
  const double judging = median_of_rounds([&] {
    for (std::size_t i = 0; i < found.size(); ++i) (void)must(condition::assess(found[i], written[i], calibration, photo, damage));
  });
  const double portraits = median_of_rounds([&] {
    for (const EnvelopeOutline& envelope : found) (void)must(registration::portray(envelope, calibration, photo));
  });
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  const auto row = [&](const char* what, double seconds) {
    std::cout << fmt::format("{:<32}{:6.2f} core-seconds  {:5.1f} times decoding\n", what, seconds, seconds / decoding);
  };
  std::cout << fmt::format("{:.1f} megapixels, {} envelopes, {} lines; median of {} rounds\n", double(photo.bgr.total()) / 1e6,
                           found.size(), lines, kRounds);
  row("decoding the JPEG", decoding);
  row("envelopes and outlines", envelopes);
  row("lines", writing);
  row("envelopes, outlines and lines", envelopes + writing);
  row("condition", judging);
  row("portraits", portraits);
  std::cout << fmt::format("most memory held {:.0f} MiB\n", double(used.ru_maxrss) / 1024);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "finding_benchmark PHOTOGRAPHS\n";
    return 2;
  }
  try {
    run(argv[1]);
  } catch (const std::exception& error) {
    std::cerr << "finding_benchmark: " << error.what() << '\n';
    return 1;
  }
  return 0;
}
