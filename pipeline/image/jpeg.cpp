#include <cstring>
#include <map>
#include <memory>

#include <turbojpeg.h>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

struct Destroy {
  void operator()(void* handle) const { tjDestroy(handle); }
};
using Handle = std::unique_ptr<void, Destroy>;

const unsigned char* data_of(Bytes file) { return reinterpret_cast<const unsigned char*>(file.data()); }

struct Shape {
  int width_px = 0;
  int height_px = 0;
  int subsampling = 0;
  int colour_space = 0;
};

Result<Shape> read_shape(tjhandle handle, Bytes file, const std::string& name) {
  Shape shape;
  if (tjDecompressHeader3(handle, data_of(file), file.size(), &shape.width_px, &shape.height_px, &shape.subsampling,
                          &shape.colour_space) != 0) {
    const std::string why = tjGetErrorStr2(handle);
    if (why.find("remature end") != std::string::npos || why.find("no image") != std::string::npos) return truncated(name);
    return unreadable(name, why);
  }
  if (shape.width_px <= 0 || shape.height_px <= 0) return truncated(name);  // ended before the size was told
  return shape;
}

// The profile lies in numbered parts, each in an APP2 segment of its own (ICC.1:2010, annex B.4).
std::vector<std::byte> icc_of(Bytes file) {
  constexpr std::string_view kMark("ICC_PROFILE\0", 12);
  std::map<int, Bytes> parts;
  const auto at = [&](std::size_t i) { return std::to_integer<unsigned>(file[i]); };
  for (std::size_t i = 2; i + 4 <= file.size() && at(i) == 0xff && at(i + 1) != 0xda;) {
    const std::size_t length = at(i + 2) << 8 | at(i + 3);
    if (length < 2 || i + 2 + length > file.size()) break;
    if (at(i + 1) == 0xe2 && length > 16 && std::memcmp(&file[i + 4], kMark.data(), kMark.size()) == 0)
      parts[static_cast<int>(at(i + 16))] = file.subspan(i + 18, length - 16);
    i += 2 + length;
  }
  std::vector<std::byte> icc;
  for (const auto& [number, part] : parts) icc.insert(icc.end(), part.begin(), part.end());
  return icc;
}

}  // namespace

Result<Header> read_jpeg_header(Bytes file, const std::string& name) {
  const Handle handle(tjInitDecompress());
  const Result<Shape> shape = read_shape(handle.get(), file, name);
  if (!shape) return shape.failure();
  Header header{"jpeg", shape->width_px, shape->height_px, 1, {}, {}};
  read_exif(file, header);
  return header;
}

Result<Stored> decode_jpeg(Bytes file, const std::string& name) {
  const Handle handle(tjInitDecompress());
  const Result<Shape> shape = read_shape(handle.get(), file, name);
  if (!shape) return shape.failure();
  const bool cmyk = shape->colour_space == TJCS_CMYK || shape->colour_space == TJCS_YCCK;
  cv::Mat pixels(shape->height_px, shape->width_px, cmyk ? CV_8UC4 : CV_8UC3);
  if (tjDecompress2(handle.get(), data_of(file), file.size(), pixels.data, pixels.cols, static_cast<int>(pixels.step),
                    pixels.rows, cmyk ? TJPF_CMYK : TJPF_BGR, TJFLAG_FASTDCT | TJFLAG_LIMITSCANS) != 0) {
    // The decoder fills what is missing with grey and only warns. Stray bytes before a marker are the one warning
    // that leaves the picture whole; some cameras write them.
    const std::string why = tjGetErrorStr2(handle.get());
    if (why.find("remature end") != std::string::npos) return truncated(name);
    if (tjGetErrorCode(handle.get()) != TJERR_WARNING || why.find("extraneous bytes") == std::string::npos)
      return unreadable(name, why);
  }
  if (cmyk) cv::bitwise_not(pixels, pixels);  // the printing trade's files hold CMYK inverted, 255 is no ink
  return Stored{pixels, icc_of(file)};
}

std::vector<std::byte> encode_jpeg(const cv::Mat& bgr, int quality) {
  if (bgr.empty()) return {};
  const Handle handle(tjInitCompress());
  unsigned char* buffer = nullptr;
  unsigned long size = 0;
  const int failed = tjCompress2(handle.get(), bgr.data, bgr.cols, static_cast<int>(bgr.step), bgr.rows, TJPF_BGR, &buffer,
                                 &size, TJSAMP_420, quality, 0);
  const std::unique_ptr<unsigned char, void (*)(unsigned char*)> owned(buffer, tjFree);
  if (failed) return {};
  const auto* first = reinterpret_cast<const std::byte*>(buffer);
  return {first, first + size};
}

}  // namespace papillote::image
