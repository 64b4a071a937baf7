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

// The picture as it lies in the file, before orientation and without its profile applied.
struct Stored {
  cv::Mat pixels;              // 8 or 16 bit; one channel grey, three B G R, four C M Y K with 0 = no ink
  std::vector<std::byte> icc;  // embedded profile; empty = none
};

// What a decoder says of a file. Sizes are those in the file, before orientation.
Result<Header> read_jpeg_header(Bytes file, const std::string& name);
Result<Header> read_png_header(Bytes file, const std::string& name);
Result<Header> read_tiff_header(Bytes file, const std::string& name);
Result<Header> read_raw_header(Bytes file, const std::string& name);

Result<Stored> decode_jpeg(Bytes file, const std::string& name);
Result<Stored> decode_png(Bytes file, const std::string& name);           // 8 bits of sRGB
Result<Stored> decode_png_original(Bytes file, const std::string& name);  // 16 bits as they lie in the file, where it has them
Result<Stored> decode_tiff(Bytes file, const std::string& name);
// Developed by the camera's white balance into sRGB of 16 bits, and upright already.
Result<Stored> decode_raw(Bytes file, const std::string& name);

// Eight bits of sRGB, B G R: through the profile where there is one that fits, else grey and RGB as they are and CMYK by the
// plain product of ink and black. `pixels` may be reused.
[[nodiscard]] cv::Mat to_srgb(Stored stored);

// Orientation, time and camera from an EXIF block, or from a JPEG file that may carry one.
void read_exif(Bytes block, Header& header);

// "2026:05:01 10:20:30" -> "2026-05-01T10:20:30"; empty when it is not a time.
[[nodiscard]] std::string iso_time(std::string_view exif_time);

[[nodiscard]] std::string camera_name(std::string make, std::string model);

[[nodiscard]] Failure truncated(const std::string& name);
[[nodiscard]] Failure unreadable(const std::string& name, std::string_view why);

}  // namespace papillote::image
