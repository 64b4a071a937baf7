#include "stages/reading/handwriting.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <opencv2/imgproc.hpp>

#include "models/library.h"

namespace papillote::reading {
namespace {

constexpr int kHeightPx = 64;
constexpr int kWidestPx = 4096;
constexpr int kMarginPx = 8;
constexpr int kStepPx = 8;       // the net's width is a multiple of this
constexpr int kNarrowestPx = 32;
constexpr double kBlankDeviation = 2;
constexpr float kMostDeviations = 4;

}  // namespace

models::Tensor net_input(const cv::Mat& grey) {
  if (grey.empty()) return {};
  const int width = std::clamp(static_cast<int>(std::lround(static_cast<double>(grey.cols) * kHeightPx / grey.rows)), 1, kWidestPx);
  cv::Mat line;
  cv::resize(grey, line, cv::Size(width, kHeightPx), 0, 0, grey.rows > kHeightPx ? cv::INTER_AREA : cv::INTER_LINEAR);
  cv::Scalar mean, deviation;
  cv::meanStdDev(line, mean, deviation);
  if (deviation[0] < kBlankDeviation) return {};

  const int padded = std::max(kNarrowestPx, (width + 2 * kMarginPx + kStepPx - 1) / kStepPx * kStepPx);
  models::Tensor input{{1, 1, kHeightPx, padded}, std::vector<float>(static_cast<std::size_t>(kHeightPx * padded))};
  const auto m = static_cast<float>(mean[0]), scale = static_cast<float>(1 / deviation[0]);
  for (int y = 0; y < kHeightPx; ++y)
    for (int x = 0; x < width; ++x)
      input.values[static_cast<std::size_t>(y * padded + kMarginPx + x)] =
          std::clamp((m - static_cast<float>(line.at<std::uint8_t>(y, x))) * scale, -kMostDeviations, kMostDeviations);
  return input;
}

HandwritingReader::HandwritingReader(models::Model model, std::u32string characters)
    : model_(std::move(model)), characters_(std::make_shared<const std::u32string>(std::move(characters))) {}

Result<HandwritingReader> HandwritingReader::open(const std::string& models_dir) {
  auto model = models::open_model(models_dir, "reader");
  if (!model) return model.failure();
  const auto table = models::read_part(models_dir, "reader", "characters");
  if (!table) return table.failure();
  std::u32string characters;
  for (const char32_t c : utf32_of(*table))
    if (c != U'\n') characters += c;
  if (model->output_shape().back() != static_cast<std::int64_t>(characters.size()) + 1)
    return Failure{"models", "model_altered", models_dir + "/reader: the table of characters does not fit the network.",
                   "Restore the folder of models as it was delivered, for instance with git, and run the command again."};
  return HandwritingReader(std::move(model).value(), std::move(characters));
}

Result<Lattice> HandwritingReader::look(const cv::Mat& grey) const {
  const models::Tensor input = net_input(grey);
  if (input.values.empty()) return Lattice{0, static_cast<int>(characters_->size()) + 1, {}, characters_};
  auto output = model_.run(input);
  if (!output) return output.failure();
  return Lattice{static_cast<int>(output->shape[1]), static_cast<int>(output->shape[2]), std::move(output.value().values), characters_};
}

}  // namespace papillote::reading
