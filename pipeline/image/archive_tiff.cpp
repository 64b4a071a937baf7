#include "pipeline/image/archive_tiff.h"

#include <lcms2.h>
#include <tiffio.h>

#include <algorithm>
#include <cstring>
#include <memory>

#include <opencv2/imgproc.hpp>

namespace papillote::image {
namespace {

constexpr int kLargestStriped_px = 2048;
constexpr int kTile_px = 256;

struct Sink {
  std::string file;
  std::size_t at = 0;
};

Sink& sink_of(thandle_t handle) { return *static_cast<Sink*>(handle); }

tmsize_t read_sink(thandle_t handle, void* to, tmsize_t wanted) {
  Sink& sink = sink_of(handle);
  const std::size_t count = std::min(static_cast<std::size_t>(wanted), sink.file.size() - std::min(sink.at, sink.file.size()));
  if (count > 0) std::memcpy(to, sink.file.data() + sink.at, count);
  sink.at += count;
  return static_cast<tmsize_t>(count);
}
tmsize_t write_sink(thandle_t handle, void* from, tmsize_t count) {
  Sink& sink = sink_of(handle);
  const std::size_t end = sink.at + static_cast<std::size_t>(count);
  if (sink.file.size() < end) sink.file.resize(end);
  std::memcpy(sink.file.data() + sink.at, from, static_cast<std::size_t>(count));
  sink.at = end;
  return count;
}
toff_t seek_sink(thandle_t handle, toff_t offset, int whence) {
  Sink& sink = sink_of(handle);
  sink.at = offset + (whence == SEEK_CUR ? sink.at : whence == SEEK_END ? sink.file.size() : 0);
  return sink.at;
}
int close_sink(thandle_t) { return 0; }
toff_t size_of_sink(thandle_t handle) { return sink_of(handle).file.size(); }

struct Close {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};

std::vector<std::byte> srgb_profile() {
  const std::unique_ptr<void, void (*)(void*)> profile(cmsCreate_sRGBProfile(), [](void* p) { cmsCloseProfile(p); });
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile.get(), nullptr, &size);
  std::vector<std::byte> icc(size);
  cmsSaveProfileToMem(profile.get(), icc.data(), &size);
  // Bytes 24 to 35 of the header hold the time of making (ICC.1:2010, 7.2.8): one and the same for all.
  constexpr std::byte kFixed[12]{std::byte{0x07}, std::byte{0xd0}, {}, std::byte{1}, {}, std::byte{1}, {}, {}, {}, {}, {}, {}};
  if (icc.size() >= 36) std::copy(std::begin(kFixed), std::end(kFixed), icc.begin() + 24);
  return icc;
}

// "2026-05-01T10:20:30" -> "2026:05:01 10:20:30"
std::string tiff_time(const std::string& iso) {
  if (iso.size() < 19) return {};
  std::string time = iso.substr(0, 19);
  time[4] = time[7] = ':';
  time[10] = ' ';
  return time;
}

void set_text(TIFF* tiff, ttag_t tag, const std::string& text) {
  if (!text.empty()) TIFFSetField(tiff, tag, text.c_str());
}

void describe(TIFF* tiff, const ArchiveTags& tags, const std::vector<std::byte>& icc) {
  set_text(tiff, TIFFTAG_DOCUMENTNAME, tags.identifier);
  set_text(tiff, TIFFTAG_IMAGEDESCRIPTION, tags.description);
  set_text(tiff, TIFFTAG_DATETIME, tiff_time(tags.made));
  set_text(tiff, TIFFTAG_MODEL, tags.camera);
  set_text(tiff, TIFFTAG_COPYRIGHT, tags.copyright);
  set_text(tiff, TIFFTAG_SOFTWARE, "papillote");
  if (!tags.xmp.empty()) TIFFSetField(tiff, TIFFTAG_XMLPACKET, static_cast<std::uint32_t>(tags.xmp.size()), tags.xmp.data());
  if (!icc.empty()) TIFFSetField(tiff, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(icc.size()), icc.data());
}

bool write_level(TIFF* tiff, const cv::Mat& samples, bool tiled) {
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, samples.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, samples.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, samples.depth() == CV_16U ? 16 : 8);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, samples.channels());
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, samples.channels() == 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
  TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
  // libtiff changes the rows while it packs them: it is given copies.
  if (!tiled) {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, TIFFDefaultStripSize(tiff, 0));
    for (int y = 0; y < samples.rows; ++y)
      if (cv::Mat row = samples.row(y).clone(); TIFFWriteScanline(tiff, row.data, static_cast<std::uint32_t>(y), 0) < 0) return false;
    return true;
  }
  TIFFSetField(tiff, TIFFTAG_TILEWIDTH, kTile_px);
  TIFFSetField(tiff, TIFFTAG_TILELENGTH, kTile_px);
  for (int y = 0; y < samples.rows; y += kTile_px)
    for (int x = 0; x < samples.cols; x += kTile_px) {
      const cv::Rect part = cv::Rect(x, y, kTile_px, kTile_px) & cv::Rect(cv::Point(), samples.size());
      cv::Mat tile = cv::Mat::zeros(kTile_px, kTile_px, samples.type());
      samples(part).copyTo(tile(cv::Rect(cv::Point(), part.size())));
      if (TIFFWriteTile(tiff, tile.data, static_cast<std::uint32_t>(x), static_cast<std::uint32_t>(y), 0, 0) < 0) return false;
    }
  return true;
}

void set_resolution(TIFF* tiff, const std::optional<Point>& px_per_mm, double shrunk) {
  constexpr double kMm_per_cm = 10;
  TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, px_per_mm ? RESUNIT_CENTIMETER : RESUNIT_NONE);
  TIFFSetField(tiff, TIFFTAG_XRESOLUTION, px_per_mm ? px_per_mm->x * kMm_per_cm / shrunk : 1.0);
  TIFFSetField(tiff, TIFFTAG_YRESOLUTION, px_per_mm ? px_per_mm->y * kMm_per_cm / shrunk : 1.0);
}

}  // namespace

Result<std::string> archive_tiff(const cv::Mat& pixels, const ArchiveTags& tags) {
  const Failure refused{"image", "unwritable", tags.identifier + ": no TIFF can be made of its picture.", "Please report this."};
  if (pixels.empty() || (pixels.channels() != 1 && pixels.channels() != 3) || (pixels.depth() != CV_8U && pixels.depth() != CV_16U)) return refused;
  cv::Mat level;
  if (pixels.channels() == 3)
    cv::cvtColor(pixels, level, cv::COLOR_BGR2RGB);
  else
    level = pixels;
  const bool tiled = std::max(pixels.cols, pixels.rows) > kLargestStriped_px;
  const std::vector<std::byte> icc = tags.icc.empty() && pixels.channels() == 3 ? srgb_profile() : tags.icc;
  Sink sink;
  {
    const std::unique_ptr<TIFFOpenOptions, void (*)(TIFFOpenOptions*)> options(TIFFOpenOptionsAlloc(), TIFFOpenOptionsFree);
    const auto quiet = [](TIFF*, void*, const char*, const char*, va_list) { return 1; };
    TIFFOpenOptionsSetErrorHandlerExtR(options.get(), quiet, nullptr);
    TIFFOpenOptionsSetWarningHandlerExtR(options.get(), quiet, nullptr);
    const std::unique_ptr<TIFF, Close> tiff(TIFFClientOpenExt("archive", "wlm", &sink, read_sink, write_sink, seek_sink, close_sink, size_of_sink,
                                                              nullptr, nullptr, options.get()));
    if (!tiff) return refused;
    double shrunk = 1;
    for (;;) {
      TIFFSetField(tiff.get(), TIFFTAG_SUBFILETYPE, shrunk > 1 ? FILETYPE_REDUCEDIMAGE : 0);
      set_resolution(tiff.get(), tags.px_per_mm, shrunk);
      if (shrunk == 1) describe(tiff.get(), tags, icc);
      if (!write_level(tiff.get(), level, tiled) || !TIFFWriteDirectory(tiff.get())) return refused;
      if (!tiled || std::max(level.cols, level.rows) <= 2 * kTile_px) break;
      cv::Mat half;
      cv::resize(level, half, cv::Size((level.cols + 1) / 2, (level.rows + 1) / 2), 0, 0, cv::INTER_AREA);
      level = half;
      shrunk *= 2;
    }
  }
  return std::move(sink.file);
}

}  // namespace papillote::image
