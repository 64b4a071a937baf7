// The check at the table, stage by stage, on one core; "whole" is what `papillote check --count` does with a photograph that is
// in order; "find" comes on top when it seems not to be.
//
//   check_benchmark [PHOTOGRAPH] [Google Benchmark's options]
//
// Without a photograph: a sample photograph, enlarged to 24 megapixels.
#include <benchmark/benchmark.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <opencv2/imgproc.hpp>
#include <string>

#include "models/library.h"
#include "pipeline/app/memory.h"
#include "pipeline/image/image.h"
#include "stages/calibration/calibration.h"
#include "stages/calibration/capture_check.h"
#include "stages/registration/registration.h"
#include "stages/segmentation/segmentation.h"

namespace papillote {
namespace {

std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

std::span<const std::byte> seen(const std::string& bytes) { return std::as_bytes(std::span(bytes)); }

std::string enlarged(const std::string& bytes) {
  cv::Mat large;
  cv::resize(image::decode(seen(bytes), "sample").value().bgr, large, {6000, 4000}, 0, 0, cv::INTER_CUBIC);
  const auto jpeg = image::encode_jpeg(large, 92);
  return {reinterpret_cast<const char*>(jpeg.data()), jpeg.size()};
}

int run(int argc, char** argv) {
  cv::setNumThreads(1);
  app::keep_freed_memory();  // as the program does
  const bool named = argc > 1 && argv[1][0] != '-';
  const std::string bytes =
      named ? bytes_of(argv[1])
            : enlarged(bytes_of(std::filesystem::path(PAPILLOTE_SOURCE_DIR) / "sample-images/tin01-sheet2.jpg"));
  const auto photo = registration::register_photo("a", seen(bytes)).value();
  const auto image = image::decode(seen(bytes), "a").value();
  const auto calibration = calibration::calibrate(photo, image, {}).value();
  const auto finder = segmentation::Finder::open(models::models_folder()).value();
  std::cerr << image.bgr.cols << " x " << image.bgr.rows << " px, " << bytes.size() / 1'000'000 << " MB\n";

  const auto measured = [](const char* name, auto work) {
    benchmark::RegisterBenchmark(name, [work](benchmark::State& state) {
      for (auto _ : state) benchmark::DoNotOptimize(work());
    })->Unit(benchmark::kMillisecond);
  };
  const auto decode = [&] { return image::decode(seen(bytes), "a"); };
  const auto calibrate = [&](const image::Image& of) { return calibration::calibrate(photo, of, {}); };
  const auto measure = [&](const image::Image& of) { return calibration::measure_capture(calibration, of); };
  const auto glance = [&](const image::Image& of) { return segmentation::glance(photo, calibration, of, finder, {}); };
  const auto find = [&](const image::Image& of) { return segmentation::find_envelopes(photo, calibration, of, finder, {}); };
  measured("register", [&] { return registration::register_photo("a", seen(bytes)); });
  measured("decode", decode);
  measured("calibrate", [&] { return calibrate(image); });
  measured("measure", [&] { return measure(image); });
  measured("glance", [&] { return glance(image); });
  measured("find", [&] { return find(image); });
  measured("whole", [&] {
    const auto fresh = decode().value();
    (void)calibrate(fresh);
    (void)measure(fresh);
    return glance(fresh);
  });
  argc -= named ? 1 : 0;
  argv[named ? 1 : 0] = argv[0];
  argv += named ? 1 : 0;
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}

}  // namespace
}  // namespace papillote

int main(int argc, char** argv) { return papillote::run(argc, argv); }
