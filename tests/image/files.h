// Image files made in memory for tests.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <string>
#include <vector>

#include <png.h>
#include <tiffio.h>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace papillote::image::files {

using File = std::vector<std::byte>;

inline File bytes_of(std::string_view text) {
  const auto* first = reinterpret_cast<const std::byte*>(text.data());
  return {first, first + text.size()};
}

// Four fields of different colour, so that every turn and mirror shows: upper left red, upper right green, lower left
// blue, lower right white.
inline cv::Mat four_fields(int width_px, int height_px) {
  cv::Mat picture(height_px, width_px, CV_8UC3, cv::Scalar(255, 255, 255));
  const int w = width_px / 2;
  const int h = height_px / 2;
  picture(cv::Rect(0, 0, w, h)) = cv::Scalar(0, 0, 255);
  picture(cv::Rect(w, 0, width_px - w, h)) = cv::Scalar(0, 255, 0);
  picture(cv::Rect(0, h, w, height_px - h)) = cv::Scalar(255, 0, 0);
  return picture;
}

inline File jpeg(const cv::Mat& bgr, int quality = 92) { return encode_jpeg(bgr, quality); }

// The file with an EXIF block (Exif 2.3, 4.5: little-endian TIFF directory behind "Exif\0\0") after its first marker.
inline File with_exif(const File& jpeg, int orientation, const std::string& time = {}) {
  std::string block("Exif\0\0II*\0\x08\0\0\0", 14);
  const auto u16 = [&](unsigned v) { block += {char(v & 255), char(v >> 8 & 255)}; };
  const auto u32 = [&](unsigned v) { u16(v & 0xffff), u16(v >> 16); };
  u16(time.empty() ? 1 : 2);
  u16(0x0112), u16(3), u32(1), u16(unsigned(orientation)), u16(0);
  if (!time.empty()) u16(0x0132), u16(2), u32(20), u32(8 + 2 + 2 * 12 + 4);
  u32(0);
  if (!time.empty()) block += time, block += '\0';
  const std::size_t length = block.size() + 2;
  std::string head("\xff\xd8\xff\xe1", 4);
  head += {char(length >> 8), char(length & 255)};
  File file = bytes_of(head + block);
  file.insert(file.end(), jpeg.begin() + 2, jpeg.end());
  return file;
}

// 8 bit BGR, or 16 bit grey.
inline File png(const cv::Mat& picture) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = png_uint_32(picture.cols);
  image.height = png_uint_32(picture.rows);
  image.format = picture.type() == CV_8UC3 ? PNG_FORMAT_BGR : PNG_FORMAT_GRAY;
  png_alloc_size_t size = 0;
  png_image_write_to_memory(&image, nullptr, &size, 0, picture.data, 0, nullptr);
  File file(size);
  png_image_write_to_memory(&image, file.data(), &size, 0, picture.data, 0, nullptr);
  file.resize(size);
  return file;
}

struct TiffLayout {
  int tile_px = 0;  // 0 = strips
  std::uint16_t photometric = PHOTOMETRIC_RGB;
  std::uint16_t compression = COMPRESSION_ADOBE_DEFLATE;
  std::uint16_t orientation = 1;
};

// A TIFF of the samples as they are: CV_8U or CV_16U, any number of channels, in the order of the photometric.
inline File tiff(const cv::Mat& samples, const TiffLayout& layout = {}) {
  struct Sink {
    File file;
    std::size_t at = 0;
  } sink;
  const auto read = [](thandle_t h, void* to, tmsize_t n) -> tmsize_t {
    auto& s = *static_cast<Sink*>(h);
    const std::size_t count = std::min(std::size_t(n), s.file.size() - std::min(s.at, s.file.size()));
    if (count) std::memcpy(to, s.file.data() + s.at, count);
    s.at += count;
    return tmsize_t(count);
  };
  const auto write = [](thandle_t h, void* from, tmsize_t n) -> tmsize_t {
    auto& s = *static_cast<Sink*>(h);
    if (s.file.size() < s.at + std::size_t(n)) s.file.resize(s.at + std::size_t(n));
    std::memcpy(s.file.data() + s.at, from, std::size_t(n));
    s.at += std::size_t(n);
    return n;
  };
  const auto seek = [](thandle_t h, toff_t offset, int whence) -> toff_t {
    auto& s = *static_cast<Sink*>(h);
    s.at = offset + (whence == SEEK_CUR ? s.at : whence == SEEK_END ? s.file.size() : 0);
    return s.at;
  };
  const auto close = [](thandle_t) { return 0; };
  const auto size = [](thandle_t h) -> toff_t { return static_cast<Sink*>(h)->file.size(); };
  TIFF* out = TIFFClientOpen("test", "wm", &sink, read, write, seek, close, size, nullptr, nullptr);
  TIFFSetField(out, TIFFTAG_IMAGEWIDTH, samples.cols);
  TIFFSetField(out, TIFFTAG_IMAGELENGTH, samples.rows);
  TIFFSetField(out, TIFFTAG_BITSPERSAMPLE, samples.depth() == CV_16U ? 16 : 8);
  TIFFSetField(out, TIFFTAG_SAMPLESPERPIXEL, samples.channels());
  TIFFSetField(out, TIFFTAG_PHOTOMETRIC, layout.photometric);
  TIFFSetField(out, TIFFTAG_COMPRESSION, layout.compression);
  TIFFSetField(out, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(out, TIFFTAG_ORIENTATION, layout.orientation);
  if (layout.tile_px) {
    TIFFSetField(out, TIFFTAG_TILEWIDTH, layout.tile_px);
    TIFFSetField(out, TIFFTAG_TILELENGTH, layout.tile_px);
    for (int y = 0; y < samples.rows; y += layout.tile_px)
      for (int x = 0; x < samples.cols; x += layout.tile_px) {
        cv::Mat tile = cv::Mat::zeros(layout.tile_px, layout.tile_px, samples.type());
        const cv::Rect part = cv::Rect(x, y, layout.tile_px, layout.tile_px) & cv::Rect(cv::Point(), samples.size());
        samples(part).copyTo(tile(cv::Rect(cv::Point(), part.size())));
        TIFFWriteTile(out, tile.data, std::uint32_t(x), std::uint32_t(y), 0, 0);
      }
  } else {
    TIFFSetField(out, TIFFTAG_ROWSPERSTRIP, 7);
    for (int y = 0; y < samples.rows; ++y) TIFFWriteScanline(out, const_cast<uchar*>(samples.ptr(y)), std::uint32_t(y), 0);
  }
  TIFFClose(out);
  return sink.file;
}

}  // namespace papillote::image::files
