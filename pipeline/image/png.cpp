#include <algorithm>
#include <cstring>

#include <png.h>
#include <zlib.h>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

// libpng's simplified reader with its clean-up.
struct Reader {
  png_image image{};
  Reader() { image.version = PNG_IMAGE_VERSION; }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;
  ~Reader() { png_image_free(&image); }

  [[nodiscard]] bool begin(Bytes file) { return png_image_begin_read_from_memory(&image, file.data(), file.size()) != 0; }
  [[nodiscard]] Failure failure(const std::string& name) const {
    const std::string why = image.message;
    return why.find("beyond end") != std::string::npos || why.find("Not enough") != std::string::npos ? truncated(name)
                                                                                                       : unreadable(name, why);
  }
};

// The data of the first chunk of a kind, empty without one.
Bytes chunk(Bytes file, const char* kind) {
  std::size_t at = 8;
  while (at + 12 <= file.size()) {
    std::size_t length = 0;
    for (std::size_t i = 0; i < 4; ++i) length = length << 8 | std::to_integer<std::size_t>(file[at + i]);
    if (length > file.size() - at - 12) return {};
    if (std::memcmp(&file[at + 4], kind, 4) == 0) return file.subspan(at + 8, length);
    at += length + 12;
  }
  return {};
}

// iCCP: a name that ends in nought, a nought for deflate, the packed profile.
std::vector<std::byte> icc_of(Bytes file) {
  const Bytes data = chunk(file, "iCCP");
  const auto name_end = std::find(data.begin(), data.end(), std::byte{0});
  if (data.end() - name_end < 3) return {};
  const auto packed = static_cast<std::size_t>(name_end - data.begin()) + 2;
  constexpr uLongf kLargest = 4 << 20;  // the largest profiles of printing presses stay under it
  std::vector<std::byte> icc(kLargest);
  uLongf size = kLargest;
  if (uncompress(reinterpret_cast<Bytef*>(icc.data()), &size, reinterpret_cast<const Bytef*>(&data[packed]), data.size() - packed) != Z_OK) return {};
  icc.resize(size);
  return icc;
}

}  // namespace

Result<Header> read_png_header(Bytes file, const std::string& name) {
  Reader reader;
  if (!reader.begin(file)) return reader.failure(name);
  Header header{"png", static_cast<int>(reader.image.width), static_cast<int>(reader.image.height), 1, {}, {}};
  if (const Bytes exif = chunk(file, "eXIf"); !exif.empty()) {
    // libexif knows the block by the introduction it has in JPEG files.
    std::vector<std::byte> block(6 + exif.size());
    std::memcpy(block.data(), "Exif\0\0", 6);
    std::memcpy(block.data() + 6, exif.data(), exif.size());
    read_exif(block, header);
  }
  return header;
}

Result<Stored> decode_png(Bytes file, const std::string& name) {
  Reader reader;
  if (!reader.begin(file)) return reader.failure(name);
  reader.image.format = PNG_FORMAT_BGR;
  reader.image.flags |= PNG_IMAGE_FLAG_16BIT_sRGB;  // scanners write sRGB at 16 bits too
  cv::Mat pixels(static_cast<int>(reader.image.height), static_cast<int>(reader.image.width), CV_8UC3);
  const png_color white{255, 255, 255};  // under transparent parts
  if (!png_image_finish_read(&reader.image, &white, pixels.data, static_cast<png_int_32>(pixels.step), nullptr))
    return reader.failure(name);
  return Stored{pixels, icc_of(file)};
}

}  // namespace papillote::image
