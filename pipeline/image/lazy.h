// The pixels of one photograph, decoded at most once and only when asked for.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "pipeline/image/image.h"
#include "pipeline/record/result.h"

namespace papillote::image {

class LazyImage {
 public:
  using Bytes = std::function<Result<std::span<const std::byte>>()>;
  using Reserve = std::function<void(double megapixels)>;

  // `identity` is the digest of the file. `reserve` is told the size before anything is decoded, and may wait.
  LazyImage(std::string path, std::string identity, Bytes bytes, Reserve reserve, Limits limits = {})
      : path_(std::move(path)),
        identity_(std::move(identity)),
        bytes_(std::move(bytes)),
        reserve_(std::move(reserve)),
        limits_(limits) {}

  [[nodiscard]] std::string_view name() const { return "pixels"; }
  [[nodiscard]] const std::string& identity() const { return identity_; }

  [[nodiscard]] const Result<Image>& get() const {
    if (!image_) image_.emplace(decoded());
    return *image_;
  }

 private:
  [[nodiscard]] Result<Image> decoded() const {
    const Result<std::span<const std::byte>> file = bytes_();
    if (!file.ok()) return file.failure();
    const Result<Header> header = read_header(*file, path_, limits_);
    if (!header.ok()) return header.failure();
    reserve_(1e-6 * header->width_px * header->height_px);
    return decode(*file, path_, limits_);
  }

  std::string path_;
  std::string identity_;
  Bytes bytes_;
  Reserve reserve_;
  Limits limits_;
  mutable std::optional<Result<Image>> image_;
};

}  // namespace papillote::image
