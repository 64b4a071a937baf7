// The pixels of one photograph, decoded at most once and only when somebody asks for them.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "pipeline/image/image.h"
#include "pipeline/record/digest.h"
#include "pipeline/record/result.h"

namespace papillote::image {

// As an input of a remembering step: it stands for its value by the digest of the file, so nothing is decoded to find an answer.
class LazyPixels {
 public:
  using Bytes = std::function<Result<std::span<const std::byte>>()>;
  // `before_decoding` is told the size in megapixels: a batch waits there for room.
  using BeforeDecoding = std::function<void(double megapixels)>;

  LazyPixels(std::string file_name, const Digest& file, Bytes bytes, BeforeDecoding before_decoding)
      : file_name_(std::move(file_name)),
        identity_(file.hex + kDecoding),
        bytes_(std::move(bytes)),
        before_decoding_(std::move(before_decoding)) {}

  [[nodiscard]] std::string_view name() const { return "pixels"; }
  [[nodiscard]] const std::string& identity() const { return identity_; }

  [[nodiscard]] const Result<Image>& get() const {
    if (!image_) image_.emplace(decoded());
    return *image_;
  }

 private:
  // To be raised when the same file gives other pixels.
  static constexpr const char* kDecoding = "/2";

  [[nodiscard]] Result<Image> decoded() const {
    const auto bytes = bytes_();
    if (!bytes.ok()) return bytes.failure();
    const auto header = read_header(*bytes, file_name_);
    if (!header.ok()) return header.failure();
    before_decoding_(header->width_px * 1e-6 * header->height_px);
    return decode(*bytes, file_name_);
  }

  std::string file_name_;
  std::string identity_;
  Bytes bytes_;
  BeforeDecoding before_decoding_;
  mutable std::optional<Result<Image>> image_;
};

}  // namespace papillote::image
