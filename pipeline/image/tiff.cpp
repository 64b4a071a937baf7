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

Result<cv::Mat> decode_tiff(Bytes file, const std::string& name) {
  Source source{file, 0, false, {}};
  const Tiff tiff = open(source);
  if (!tiff) return failure_of(source, name);
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
  cv::Mat bgr;
  cv::cvtColor(rgba, bgr, cv::COLOR_RGBA2BGR);
  return bgr;
}

}  // namespace papillote::image
