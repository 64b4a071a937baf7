#include <algorithm>
#include <csetjmp>
#include <cstring>
#include <vector>

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

// libpng's full reader, for samples of 16 bits as they lie in the file: the simplified one gives them in linear light or not at all.
struct FullReader {
  Bytes file;
  std::size_t at = 0;
  std::string why;
  png_structp png = nullptr;
  png_infop info = nullptr;
  cv::Mat pixels;
  std::vector<png_bytep> rows;

  explicit FullReader(Bytes bytes) : file(bytes), png(png_create_read_struct(PNG_LIBPNG_VER_STRING, this, fail, ignore)) {
    if (png != nullptr) info = png_create_info_struct(png);
  }
  FullReader(const FullReader&) = delete;
  FullReader& operator=(const FullReader&) = delete;
  ~FullReader() { png_destroy_read_struct(&png, &info, nullptr); }

  // libpng jumps back here when the file is bad: nothing with a destructor may live between.
  bool begin() {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_set_read_fn(png, this, read);
    png_read_info(png, info);
    png_set_expand(png);
    png_set_swap(png);
    png_set_bgr(png);
    constexpr png_color_16 kWhite{0, 65535, 65535, 65535, 65535};
    png_set_background(png, &kWhite, PNG_BACKGROUND_GAMMA_SCREEN, 0, 1);
    png_set_interlace_handling(png);
    png_read_update_info(png, info);
    return true;
  }
  bool finish() {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_read_image(png, rows.data());
    png_read_end(png, nullptr);
    return true;
  }

 private:
  static FullReader& of(png_structp png) { return *static_cast<FullReader*>(png_get_error_ptr(png)); }
  static void read(png_structp png, png_bytep to, std::size_t wanted) {
    FullReader& reader = of(png);
    if (wanted > reader.file.size() - reader.at) png_error(png, kEndsEarly);
    std::memcpy(to, &reader.file[reader.at], wanted);
    reader.at += wanted;
  }
  static void fail(png_structp png, png_const_charp words) {
    of(png).why = words;
    png_longjmp(png, 1);
  }
  static void ignore(png_structp, png_const_charp) {}

 public:
  static constexpr const char* kEndsEarly = "the file ends";
};

int bit_depth(Bytes file) {
  constexpr std::size_t kDepthAt = 24;  // PNG (second edition), 11.2.2: signature, chunk head, width, height
  return file.size() > kDepthAt ? std::to_integer<int>(file[kDepthAt]) : 0;
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

Result<Stored> decode_png_original(Bytes file, const std::string& name) {
  if (bit_depth(file) != 16) return decode_png(file, name);
  FullReader reader(file);
  const auto failure = [&] { return reader.why == FullReader::kEndsEarly ? truncated(name) : unreadable(name, reader.why); };
  if (reader.info == nullptr || !reader.begin()) return failure();
  reader.pixels.create(static_cast<int>(png_get_image_height(reader.png, reader.info)), static_cast<int>(png_get_image_width(reader.png, reader.info)),
                       CV_MAKETYPE(CV_16U, png_get_channels(reader.png, reader.info)));
  for (int y = 0; y < reader.pixels.rows; ++y) reader.rows.push_back(reader.pixels.ptr(y));
  if (!reader.finish()) return failure();
  return Stored{reader.pixels, icc_of(file)};
}

}  // namespace papillote::image
