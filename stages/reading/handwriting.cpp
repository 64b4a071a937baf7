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
constexpr std::size_t kMostTogether = 4;  // more are no quicker
constexpr std::size_t kMostWidth_percent = 108;  // of the longest line of those that are read together, to the shortest

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

Result<std::vector<Lattice>> HandwritingReader::look(const std::vector<cv::Mat>& greys) const {
  std::vector<Lattice> lattices(greys.size(), Lattice{0, classes(), {}, characters_});
  std::vector<models::Tensor> inputs;
  std::vector<std::size_t> by_width;
  for (const cv::Mat& grey : greys) {
    inputs.push_back(net_input(grey));
    if (!inputs.back().values.empty()) by_width.push_back(inputs.size() - 1);
  }
  const auto width = [&](std::size_t i) { return static_cast<std::size_t>(inputs[i].shape[3]); };
  std::stable_sort(by_width.begin(), by_width.end(), [&](std::size_t a, std::size_t b) { return width(a) < width(b); });
  for (std::size_t first = 0, end = 0; first < by_width.size(); first = end) {
    const std::size_t most_width = kMostWidth_percent * width(by_width[first]) / 100;
    while (end < std::min(by_width.size(), first + kMostTogether) && width(by_width[end]) <= most_width) ++end;
    const std::size_t lines = end - first, widest = width(by_width[end - 1]);
    models::Tensor together{{static_cast<std::int64_t>(lines), 1, kHeightPx, static_cast<std::int64_t>(widest)},
                            std::vector<float>(lines * kHeightPx * widest)};
    for (std::size_t k = 0; k < lines; ++k) {
      const models::Tensor& one = inputs[by_width[first + k]];
      const std::size_t w = width(by_width[first + k]);
      for (std::size_t y = 0; y < kHeightPx; ++y)
        std::copy_n(one.values.begin() + static_cast<std::ptrdiff_t>(y * w), w,
                    together.values.begin() + static_cast<std::ptrdiff_t>((k * kHeightPx + y) * widest));
    }
    const auto output = model_.run(together);
    if (!output) return output.failure();
    const auto frames = static_cast<std::size_t>(output->shape[1]), of_a_frame = static_cast<std::size_t>(output->shape[2]);
    for (std::size_t k = 0; k < lines; ++k) {
      Lattice& lattice = lattices[by_width[first + k]];
      const std::size_t own = frames * width(by_width[first + k]) / widest;
      lattice.frames = static_cast<int>(own);
      const auto begin = output->values.begin() + static_cast<std::ptrdiff_t>(k * frames * of_a_frame);
      lattice.log_p.assign(begin, begin + static_cast<std::ptrdiff_t>(own * of_a_frame));
    }
  }
  return lattices;
}

}  // namespace papillote::reading
