#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <memory>

#include <tiffio.h>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

// A file in memory, as libtiff reads it, and the first thing it complained about.
struct Source {
  Bytes file;
  toff_t at = 0;
  bool past_end = false;
  std::string complaint;
};

Source& source_of(thandle_t handle) { return *static_cast<Source*>(handle); }

tmsize_t read_source(thandle_t handle, void* to, tmsize_t wanted) {
  Source& source = source_of(handle);
  const toff_t size = source.file.size();
  const toff_t left = source.at < size ? size - source.at : 0;
  const toff_t count = std::min<toff_t>(left, static_cast<toff_t>(wanted));
  if (count < static_cast<toff_t>(wanted)) source.past_end = true;
  std::memcpy(to, source.file.data() + (size - left), count);
  source.at += count;
  return static_cast<tmsize_t>(count);
}
tmsize_t write_source(thandle_t, void*, tmsize_t) { return 0; }
toff_t seek_source(thandle_t handle, toff_t offset, int whence) {
  Source& source = source_of(handle);
  source.at = offset + (whence == SEEK_CUR ? source.at : whence == SEEK_END ? source.file.size() : 0);
  return source.at;
}
int close_source(thandle_t) { return 0; }
toff_t size_of_source(thandle_t handle) { return source_of(handle).file.size(); }

int keep_complaint(TIFF*, void* user, const char*, const char* format, va_list arguments) {
  auto& complaint = static_cast<Source*>(user)->complaint;
  if (complaint.empty()) {
    char text[256];
    std::vsnprintf(text, sizeof text, format, arguments);
    complaint = text;
  }
  return 1;
}
int ignore_warning(TIFF*, void*, const char*, const char*, va_list) { return 1; }

struct Close {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
using Tiff = std::unique_ptr<TIFF, Close>;

Tiff open(Source& source) {
  const std::unique_ptr<TIFFOpenOptions, void (*)(TIFFOpenOptions*)> options(TIFFOpenOptionsAlloc(), TIFFOpenOptionsFree);
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), keep_complaint, &source);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), ignore_warning, &source);
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), tmsize_t{2} << 30);
  // "m": no memory mapping, the bytes are in memory already.
  return Tiff(TIFFClientOpenExt("photograph", "rm", &source, read_source, write_source, seek_source, close_source,
                                size_of_source, nullptr, nullptr, options.get()));
}

Failure failure_of(const Source& source, const std::string& name) {
  // A directory or a strip that lies behind the end of the file shows as a read or a seek past it.
  const bool cut = source.past_end || source.at > source.file.size() || source.complaint.find("Read error") != std::string::npos;
  return cut ? truncated(name) : unreadable(name, source.complaint);
}

std::string text_field(TIFF* tiff, ttag_t tag) {
  const char* text = nullptr;
  return TIFFGetField(tiff, tag, &text) && text ? text : "";
}

std::string time_taken(TIFF* tiff) {
  const std::string written = text_field(tiff, TIFFTAG_DATETIME);
  toff_t exif = 0;
  if (TIFFGetField(tiff, TIFFTAG_EXIFIFD, &exif) && TIFFReadEXIFDirectory(tiff, exif))
    if (const std::string original = text_field(tiff, EXIFTAG_DATETIMEORIGINAL); !original.empty()) return iso_time(original);
  return iso_time(written);
}

// Channels of a picture of plain 8 or 16 bit samples, which is read as it is; 0 = any other.
int plain_channels(TIFF* tiff) {
  std::uint16_t bits = 1;
  std::uint16_t channels = 1;
  std::uint16_t photometric = 0;
  std::uint16_t format = SAMPLEFORMAT_UINT;
  std::uint16_t ink_set = INKSET_CMYK;
  TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &channels);
  TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &format);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_INKSET, &ink_set);
  if ((bits != 8 && bits != 16) || format != SAMPLEFORMAT_UINT) return 0;
  const bool grey = channels == 1 && (photometric == PHOTOMETRIC_MINISBLACK || photometric == PHOTOMETRIC_MINISWHITE);
  const bool rgb = channels == 3 && photometric == PHOTOMETRIC_RGB;
  const bool cmyk = channels == 4 && photometric == PHOTOMETRIC_SEPARATED && ink_set == INKSET_CMYK;
  return grey || rgb || cmyk ? channels : 0;
}

// One plane of samples, or all of them side by side.
bool read_plane(TIFF* tiff, std::uint16_t plane, cv::Mat& samples) {
  if (!TIFFIsTiled(tiff)) {
    if (TIFFScanlineSize(tiff) > static_cast<tmsize_t>(samples.step[0])) return false;
    for (int y = 0; y < samples.rows; ++y)
      if (TIFFReadScanline(tiff, samples.ptr(y), static_cast<std::uint32_t>(y), plane) < 0) return false;
    return true;
  }
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_TILELENGTH, &height);
  constexpr std::uint32_t kLargestTile = 1 << 15;
  if (width == 0 || height == 0 || width > kLargestTile || height > kLargestTile) return false;
  cv::Mat tile(static_cast<int>(height), static_cast<int>(width), samples.type());
  if (TIFFTileSize(tiff) > static_cast<tmsize_t>(tile.total() * tile.elemSize())) return false;
  for (int y = 0; y < samples.rows; y += tile.rows)
    for (int x = 0; x < samples.cols; x += tile.cols) {
      if (TIFFReadTile(tiff, tile.data, static_cast<std::uint32_t>(x), static_cast<std::uint32_t>(y), 0, plane) < 0) return false;
      const cv::Rect part = cv::Rect(x, y, tile.cols, tile.rows) & cv::Rect(cv::Point(), samples.size());
      tile(cv::Rect(cv::Point(), part.size())).copyTo(samples(part));
    }
  return true;
}

bool read_samples(TIFF* tiff, int channels, cv::Mat& pixels) {
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  std::uint16_t bits = 8;
  std::uint16_t planar = PLANARCONFIG_CONTIG;
  std::uint16_t photometric = 0;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &planar);
  TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric);
  const int depth = bits == 16 ? CV_16U : CV_8U;
  const cv::Size size(static_cast<int>(width), static_cast<int>(height));
  if (planar == PLANARCONFIG_SEPARATE && channels > 1) {
    std::vector<cv::Mat> planes(static_cast<std::size_t>(channels));
    for (std::uint16_t c = 0; c < channels; ++c) {
      planes[c].create(size, CV_MAKETYPE(depth, 1));
      if (!read_plane(tiff, c, planes[c])) return false;
    }
    cv::merge(planes, pixels);
  } else {
    pixels.create(size, CV_MAKETYPE(depth, channels));
    if (!read_plane(tiff, 0, pixels)) return false;
  }
  if (channels == 3) cv::cvtColor(pixels, pixels, cv::COLOR_RGB2BGR);
  if (photometric == PHOTOMETRIC_MINISWHITE) cv::bitwise_not(pixels, pixels);
  return true;
}

}  // namespace

Result<Header> read_tiff_header(Bytes file, const std::string& name) {
  Source source{file, 0, false, {}};
  const Tiff tiff = open(source);
  if (!tiff) return failure_of(source, name);
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  std::uint16_t orientation = 1;
  if (!TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &width) || !TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &height) ||
      width == 0 || height == 0 || width > 1'000'000 || height > 1'000'000)
    return unreadable(name, "no sensible width and height");
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_ORIENTATION, &orientation);
  Header header{"tiff", static_cast<int>(width), static_cast<int>(height), orientation, {}, {}};
  header.camera = camera_name(text_field(tiff.get(), TIFFTAG_MAKE), text_field(tiff.get(), TIFFTAG_MODEL));
  header.taken = time_taken(tiff.get());  // last: it moves to another directory
  return header;
}

Result<Stored> decode_tiff(Bytes file, const std::string& name) {
  Source source{file, 0, false, {}};
  const Tiff tiff = open(source);
  if (!tiff) return failure_of(source, name);
  Stored stored;
  std::uint32_t icc_size = 0;
  const void* icc = nullptr;
  if (TIFFGetField(tiff.get(), TIFFTAG_ICCPROFILE, &icc_size, &icc) && icc_size > 0) {
    const auto* first = static_cast<const std::byte*>(icc);
    stored.icc.assign(first, first + icc_size);
  }
  if (const int channels = plain_channels(tiff.get()); channels > 0) {
    if (!read_samples(tiff.get(), channels, stored.pixels)) return failure_of(source, name);
    return stored;
  }
  // Palettes, YCbCr, transparency and the like: libtiff turns them into eight-bit RGB.
  char why[1024] = "";
  TIFFRGBAImage reader{};
  constexpr int kStopOnError = 1;
  if (!TIFFRGBAImageOK(tiff.get(), why) || !TIFFRGBAImageBegin(&reader, tiff.get(), kStopOnError, why)) return unreadable(name, why);
  const std::unique_ptr<TIFFRGBAImage, void (*)(TIFFRGBAImage*)> ended(&reader, TIFFRGBAImageEnd);
  // Orientation is applied by the caller, for all formats alike.
  reader.orientation = ORIENTATION_TOPLEFT;
  reader.req_orientation = ORIENTATION_TOPLEFT;
  cv::Mat rgba(static_cast<int>(reader.height), static_cast<int>(reader.width), CV_8UC4);
  if (!TIFFRGBAImageGet(&reader, rgba.ptr<std::uint32_t>(), reader.width, reader.height)) return failure_of(source, name);
  cv::cvtColor(rgba, stored.pixels, cv::COLOR_RGBA2BGR);
  return stored;
}

}  // namespace papillote::image
