#include "pipeline/review/pictures.h"

#include <fmt/format.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <span>

namespace papillote::review {
namespace {

constexpr std::size_t kMostBytes = std::size_t{192} << 20;
constexpr std::size_t kMostPhotographs = 2;  // decoded, some 70 MB each
constexpr int kQuality = 86;

cv::Mat at_most(const cv::Mat& pixels, int most_px) {
  const int longer = std::max(pixels.cols, pixels.rows);
  if (longer <= most_px) return pixels;
  const double scale = static_cast<double>(most_px) / longer;
  cv::Mat small;
  cv::resize(pixels, small, {std::max(1, static_cast<int>(pixels.cols * scale)), std::max(1, static_cast<int>(pixels.rows * scale))}, 0, 0,
             cv::INTER_AREA);
  return small;
}

std::string key_of(const Photo& photo, const Crop& crop, int most_px) {
  std::string key = photo.sha256.hex;
  for (const Point& corner : crop.quad_px) key += fmt::format("/{:.1f},{:.1f}", corner.x, corner.y);
  return fmt::format("{}/{}x{}/{}", key, crop.width_px, crop.height_px, most_px);
}

bool drawable(const Crop& crop) { return crop.width_px > 0 && crop.height_px > 0 && crop.width_px < 20'000 && crop.height_px < 20'000; }

}  // namespace

Jpeg Pictures::find(const std::string& key) {
  const std::lock_guard lock(keeping_);
  const auto at = by_key_.find(key);
  if (at == by_key_.end()) return nullptr;
  kept_.splice(kept_.begin(), kept_, at->second);
  return at->second->jpeg;
}

Jpeg Pictures::keep(const std::string& key, std::vector<std::byte> bytes) {
  const auto jpeg = std::make_shared<const std::vector<std::byte>>(std::move(bytes));
  const std::lock_guard lock(keeping_);
  if (by_key_.contains(key)) return jpeg;
  bytes_ += jpeg->size();
  kept_.push_front({key, jpeg});
  by_key_[key] = kept_.begin();
  while (bytes_ > kMostBytes && kept_.size() > 1) {
    bytes_ -= kept_.back().jpeg->size();
    by_key_.erase(kept_.back().key);
    kept_.pop_back();
  }
  return jpeg;
}

Result<image::Image> Pictures::decoded(store::Store& store, const Photo& photo) {
  const auto known = std::find_if(photographs_.begin(), photographs_.end(), [&](const auto& one) { return one.first == photo.sha256; });
  if (known != photographs_.end()) {
    photographs_.splice(photographs_.begin(), photographs_, known);
    return photographs_.front().second;
  }
  const auto bytes = craft_.file(store, photo);
  if (!bytes.ok()) return bytes.failure();
  auto image = image::decode(std::as_bytes(std::span(*bytes)), photo.path);
  if (!image.ok()) return image.failure();
  photographs_.emplace_front(photo.sha256, *image);
  if (photographs_.size() > kMostPhotographs) photographs_.pop_back();
  return *image;
}

Result<Jpeg> Pictures::crop(store::Store& store, const Photo& photo, const Crop& crop, int most_px, const std::vector<IndexRecord>& beside) {
  const std::string key = key_of(photo, crop, most_px);
  if (Jpeg known = find(key)) return known;
  if (!drawable(crop)) return Failure{"review", "no_picture", "This envelope has no cut-out.", "Process its photograph again."};
  const std::lock_guard lock(decoding_);
  if (Jpeg known = find(key)) return known;
  const auto image = decoded(store, photo);
  if (!image.ok()) return image.failure();
  for (const IndexRecord& other : beside)
    if (drawable(other.outline.crop))
      keep(key_of(photo, other.outline.crop, most_px), image::encode_jpeg(at_most(image::rectify(*image, other.outline.crop), most_px), kQuality));
  return keep(key, image::encode_jpeg(at_most(image::rectify(*image, crop), most_px), kQuality));
}

Result<Jpeg> Pictures::photograph(store::Store& store, const Photo& photo, int most_px) {
  const std::string key = fmt::format("{}/{}", photo.sha256.hex, most_px);
  if (Jpeg known = find(key)) return known;
  const std::lock_guard lock(decoding_);
  if (Jpeg known = find(key)) return known;
  const auto image = decoded(store, photo);
  if (!image.ok()) return image.failure();
  return keep(key, image::encode_jpeg(at_most(image->bgr, most_px), kQuality));
}

}  // namespace papillote::review
