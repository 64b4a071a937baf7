#include <cstring>

#include <png.h>

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

// The data of the eXIf chunk (PNG extensions 1.5.0), empty without one.
Bytes exif_chunk(Bytes file) {
  std::size_t at = 8;
  while (at + 12 <= file.size()) {
    std::size_t length = 0;
    for (std::size_t i = 0; i < 4; ++i) length = length << 8 | std::to_integer<std::size_t>(file[at + i]);
    if (length > file.size() - at - 12) return {};
    if (std::memcmp(&file[at + 4], "eXIf", 4) == 0) return file.subspan(at + 8, length);
    at += length + 12;
  }
  return {};
}

}  // namespace

Result<Header> read_png_header(Bytes file, const std::string& name) {
  Reader reader;
  if (!reader.begin(file)) return reader.failure(name);
  Header header{"png", static_cast<int>(reader.image.width), static_cast<int>(reader.image.height), 1, {}, {}};
  if (const Bytes exif = exif_chunk(file); !exif.empty()) {
    // libexif knows the block by the introduction it has in JPEG files.
    std::vector<std::byte> block(6 + exif.size());
    std::memcpy(block.data(), "Exif\0\0", 6);
    std::memcpy(block.data() + 6, exif.data(), exif.size());
    read_exif(block, header);
  }
  return header;
}

Result<cv::Mat> decode_png(Bytes file, const std::string& name) {
  Reader reader;
  if (!reader.begin(file)) return reader.failure(name);
  reader.image.format = PNG_FORMAT_BGR;
  reader.image.flags |= PNG_IMAGE_FLAG_16BIT_sRGB;  // scanners write sRGB at 16 bits too
  cv::Mat pixels(static_cast<int>(reader.image.height), static_cast<int>(reader.image.width), CV_8UC3);
  const png_color white{255, 255, 255};  // under transparent parts
  if (!png_image_finish_read(&reader.image, &white, pixels.data, static_cast<png_int_32>(pixels.step), nullptr))
    return reader.failure(name);
  return pixels;
}

}  // namespace papillote::image
