// One decoder per file format, and what they share. Private to the room.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <opencv2/core.hpp>

#include "pipeline/image/image.h"

namespace papillote::image {

using Bytes = std::span<const std::byte>;

// What a decoder says of a file. Sizes are those in the file, before orientation.
Result<Header> read_jpeg_header(Bytes file, const std::string& name);
Result<Header> read_png_header(Bytes file, const std::string& name);
Result<Header> read_tiff_header(Bytes file, const std::string& name);

// Pixels as they lie in the file, before orientation.
Result<cv::Mat> decode_jpeg(Bytes file, const std::string& name);
Result<cv::Mat> decode_png(Bytes file, const std::string& name);
Result<cv::Mat> decode_tiff(Bytes file, const std::string& name);

// Orientation, time and camera from an EXIF block, or from a JPEG file that may carry one.
void read_exif(Bytes block, Header& header);

// "2026:05:01 10:20:30" -> "2026-05-01T10:20:30"; empty when it is not a time.
[[nodiscard]] std::string iso_time(std::string_view exif_time);

[[nodiscard]] std::string camera_name(std::string make, std::string model);

[[nodiscard]] Failure truncated(const std::string& name);
[[nodiscard]] Failure unreadable(const std::string& name, std::string_view why);

}  // namespace papillote::image
