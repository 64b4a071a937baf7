// Image files made in memory for tests.
#pragma once

#include <array>
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

// PNG (second edition) with samples of 16 bits: grey, B G R or B G R A.
inline File png16(const cv::Mat& samples) {
  constexpr std::array kColours{0, PNG_COLOR_TYPE_GRAY, 0, PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_RGB_ALPHA};
  File file;
  png_structp out = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(out);
  const auto take = [](png_structp png, png_bytep bytes, std::size_t count) {
    const auto* first = reinterpret_cast<const std::byte*>(bytes);
    auto& to = *static_cast<File*>(png_get_io_ptr(png));
    to.insert(to.end(), first, first + count);
  };
  png_set_write_fn(out, &file, take, nullptr);
  png_set_IHDR(out, info, png_uint_32(samples.cols), png_uint_32(samples.rows), 16, kColours[std::size_t(samples.channels())], PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  png_write_info(out, info);
  png_set_swap(out);
  png_set_bgr(out);
  for (int y = 0; y < samples.rows; ++y) png_write_row(out, samples.ptr(y));
  png_write_end(out, info);
  png_destroy_write_struct(&out, &info);
  return file;
}

// 8 bit BGR, or grey.
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
  std::vector<unsigned char> icc{};
};

// A TIFF in memory.
class TiffSink {
 public:
  TiffSink() { out_ = TIFFClientOpen("test", "wm", this, read, write, seek, close, size, nullptr, nullptr); }
  [[nodiscard]] TIFF* out() { return out_; }
  [[nodiscard]] File closed() {
    TIFFClose(out_);
    return file_;
  }

 private:
  static TiffSink& self(thandle_t h) { return *static_cast<TiffSink*>(h); }
  static tmsize_t read(thandle_t h, void* to, tmsize_t n) {
    auto& s = self(h);
    const std::size_t count = std::min(std::size_t(n), s.file_.size() - std::min(s.at_, s.file_.size()));
    if (count) std::memcpy(to, s.file_.data() + s.at_, count);
    s.at_ += count;
    return tmsize_t(count);
  }
  static tmsize_t write(thandle_t h, void* from, tmsize_t n) {
    auto& s = self(h);
    if (s.file_.size() < s.at_ + std::size_t(n)) s.file_.resize(s.at_ + std::size_t(n));
    std::memcpy(s.file_.data() + s.at_, from, std::size_t(n));
    s.at_ += std::size_t(n);
    return n;
  }
  static toff_t seek(thandle_t h, toff_t offset, int whence) {
    auto& s = self(h);
    s.at_ = offset + (whence == SEEK_CUR ? s.at_ : whence == SEEK_END ? s.file_.size() : 0);
    return s.at_;
  }
  static int close(thandle_t) { return 0; }
  static toff_t size(thandle_t h) { return self(h).file_.size(); }

  File file_;
  std::size_t at_ = 0;
  TIFF* out_ = nullptr;
};

// A TIFF of the samples as they are: CV_8U or CV_16U, any number of channels, in the order of the photometric.
inline File tiff(const cv::Mat& samples, const TiffLayout& layout = {}) {
  TiffSink sink;
  TIFF* out = sink.out();
  TIFFSetField(out, TIFFTAG_IMAGEWIDTH, samples.cols);
  TIFFSetField(out, TIFFTAG_IMAGELENGTH, samples.rows);
  TIFFSetField(out, TIFFTAG_BITSPERSAMPLE, samples.depth() == CV_16U ? 16 : 8);
  TIFFSetField(out, TIFFTAG_SAMPLESPERPIXEL, samples.channels());
  TIFFSetField(out, TIFFTAG_PHOTOMETRIC, layout.photometric);
  TIFFSetField(out, TIFFTAG_COMPRESSION, layout.compression);
  TIFFSetField(out, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(out, TIFFTAG_ORIENTATION, layout.orientation);
  if (!layout.icc.empty()) TIFFSetField(out, TIFFTAG_ICCPROFILE, std::uint32_t(layout.icc.size()), layout.icc.data());
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
  return sink.closed();
}

// The four fields as a camera's mosaic sees them, 16 bits, the camera's colours being those of XYZ's sRGB primaries.
inline File dng(int width_px, int height_px, int orientation) {
  const cv::Mat picture = four_fields(width_px, height_px);
  cv::Mat mosaic(height_px, width_px, CV_16UC1);
  for (int y = 0; y < height_px; ++y)
    for (int x = 0; x < width_px; ++x) {
      const int channel = y % 2 == 0 ? (x % 2 == 0 ? 2 : 1) : (x % 2 == 0 ? 1 : 0);
      mosaic.at<std::uint16_t>(y, x) = std::uint16_t(picture.at<cv::Vec3b>(y, x)[channel] * 257);
    }
  TiffSink sink;
  TIFF* out = sink.out();
  TIFFSetField(out, TIFFTAG_IMAGEWIDTH, width_px);
  TIFFSetField(out, TIFFTAG_IMAGELENGTH, height_px);
  TIFFSetField(out, TIFFTAG_BITSPERSAMPLE, 16);
  TIFFSetField(out, TIFFTAG_SAMPLESPERPIXEL, 1);
  TIFFSetField(out, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_CFA);
  TIFFSetField(out, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(out, TIFFTAG_ORIENTATION, orientation);
  TIFFSetField(out, TIFFTAG_ROWSPERSTRIP, height_px);
  TIFFSetField(out, TIFFTAG_MAKE, "Maker");
  TIFFSetField(out, TIFFTAG_MODEL, "Model 2");
  TIFFSetField(out, TIFFTAG_DNGVERSION, "\001\004\000\000");
  TIFFSetField(out, TIFFTAG_DNGBACKWARDVERSION, "\001\001\000\000");
  TIFFSetField(out, TIFFTAG_UNIQUECAMERAMODEL, "Maker Model 2");
  const std::uint16_t repeat[2]{2, 2};
  TIFFSetField(out, TIFFTAG_CFAREPEATPATTERNDIM, repeat);
  TIFFSetField(out, TIFFTAG_CFAPATTERN, 4, "\000\001\001\002");
  // XYZ to linear sRGB (IEC 61966-2-1).
  const float matrix[9]{3.2406F, -1.5372F, -0.4986F, -0.9689F, 1.8758F, 0.0415F, 0.0557F, -0.2040F, 1.0570F};
  TIFFSetField(out, TIFFTAG_COLORMATRIX1, 9, matrix);
  TIFFSetField(out, TIFFTAG_CALIBRATIONILLUMINANT1, 21);  // D65
  const float neutral[3]{1, 1, 1};
  TIFFSetField(out, TIFFTAG_ASSHOTNEUTRAL, 3, neutral);
  for (int y = 0; y < height_px; ++y) TIFFWriteScanline(out, mosaic.ptr(y), std::uint32_t(y), 0);
  return sink.closed();
}

}  // namespace papillote::image::files
