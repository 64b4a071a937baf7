#include "stages/segmentation/finder.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <opencv2/imgproc.hpp>

#include "models/library.h"

namespace papillote::segmentation {
namespace {

constexpr int kStep_px = 32;       // the net's sides are multiples of this
constexpr float kOffset_px = 64;   // unit of the net's offsets, in pixels of its input
constexpr int kShrink = 2;         // its answer is half as large
enum Channel { kPaper, kEdge, kCovered, kDepth, kToMiddle, kToFullMiddle = kToMiddle + 2, kChannels = kToFullMiddle + 2 };

}  // namespace

Result<Finder> Finder::open(const std::string& models_dir) {
  auto model = models::open_model(models_dir, "finder");
  if (!model) return model.failure();
  return Finder(std::move(model).value());
}

Result<Marks> Finder::look(const cv::Mat& bgr, int long_side_px) const {
  const double scale = std::min(1.0, static_cast<double>(long_side_px) / std::max(bgr.cols, bgr.rows));
  const cv::Size size(std::max(1, cvRound(bgr.cols * scale)), std::max(1, cvRound(bgr.rows * scale)));
  cv::Mat picture;
  cv::resize(bgr, picture, size, 0, 0, cv::INTER_AREA);
  const auto padded = [](int side) { return (side + kStep_px - 1) / kStep_px * kStep_px; };
  cv::copyMakeBorder(picture, picture, 0, padded(size.height) - size.height, 0, padded(size.width) - size.width, cv::BORDER_REPLICATE);

  models::Tensor input{{1, 3, picture.rows, picture.cols}, std::vector<float>(3 * picture.total())};
  for (int c = 0; c < 3; ++c) {  // red first
    cv::Mat plane(picture.size(), CV_32F, input.values.data() + static_cast<std::size_t>(c) * picture.total());
    cv::Mat channel;
    cv::extractChannel(picture, channel, 2 - c);
    channel.convertTo(plane, CV_32F);
  }
  auto output = model_.run(input);
  if (!output) return output.failure();

  const cv::Size half(picture.cols / kShrink, picture.rows / kShrink);
  const cv::Rect seen(0, 0, (size.width + kShrink - 1) / kShrink, (size.height + kShrink - 1) / kShrink);
  std::array<cv::Mat, kChannels> planes;
  for (int c = 0; c < kChannels; ++c)
    planes[static_cast<std::size_t>(c)] =
        cv::Mat(half, CV_32F, output.value().values.data() + static_cast<std::size_t>(c) * static_cast<std::size_t>(half.area()))(seen);
  const auto offsets = [&](int first) {
    cv::Mat both;
    cv::merge(planes.data() + first, 2, both);
    return cv::Mat(both * (kOffset_px / kShrink));
  };
  return Marks{planes[kPaper].clone(), planes[kEdge].clone(), planes[kCovered].clone(), offsets(kToMiddle), offsets(kToFullMiddle),
               kShrink / scale};
}

}  // namespace papillote::segmentation
