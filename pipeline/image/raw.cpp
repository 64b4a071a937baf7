#include <ctime>
#include <memory>

#include <libraw/libraw.h>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

// LibRaw's state is large: never on the stack.
std::unique_ptr<LibRaw> opened(Bytes file, int& error) {
  auto raw = std::make_unique<LibRaw>();
  raw->set_dataerror_handler(nullptr, nullptr);  // it would speak on stderr
  // Read only, whatever the type says.
  error = raw->open_buffer(const_cast<std::byte*>(file.data()), file.size());
  return raw;
}

Failure failure_of(int error, const std::string& name) {
  return error == LIBRAW_IO_ERROR || error == LIBRAW_DATA_ERROR ? truncated(name) : unreadable(name, libraw_strerror(error));
}

}  // namespace

Result<Header> read_raw_header(Bytes file, const std::string& name) {
  int error = 0;
  const auto raw = opened(file, error);
  if (error != LIBRAW_SUCCESS) return failure_of(error, name);
  const auto& sizes = raw->imgdata.sizes;
  const bool on_its_side = sizes.flip == 5 || sizes.flip == 6;
  Header header{"raw", on_its_side ? sizes.height : sizes.width, on_its_side ? sizes.width : sizes.height, 1, {}, {}};
  if (header.width_px <= 0 || header.height_px <= 0) return unreadable(name, "no sensible width and height");
  if (const std::time_t taken = raw->imgdata.other.timestamp; taken > 0) {
    // LibRaw takes the camera's clock for local time: so does this.
    char text[32];
    std::tm local{};
    std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%S", localtime_r(&taken, &local));
    header.taken = text;
  }
  header.camera = camera_name(raw->imgdata.idata.make, raw->imgdata.idata.model);
  return header;
}

Result<Stored> decode_raw(Bytes file, const std::string& name) {
  int error = 0;
  const auto raw = opened(file, error);
  if (error == LIBRAW_SUCCESS) error = raw->unpack();
  if (error != LIBRAW_SUCCESS) return failure_of(error, name);
  auto& how = raw->imgdata.params;
  how.output_bps = 16;
  how.output_color = 1;  // sRGB
  how.gamm[0] = 1 / 2.4;
  how.gamm[1] = 12.92;
  how.use_camera_wb = 1;
  how.no_auto_bright = 1;  // exposure as taken
  error = raw->dcraw_process();
  if (error != LIBRAW_SUCCESS) return failure_of(error, name);
  int width = 0;
  int height = 0;
  int channels = 0;
  int bits = 0;
  raw->get_mem_image_format(&width, &height, &channels, &bits);
  if (channels != 1 && channels != 3) return unreadable(name, "neither grey nor three colours");
  Stored stored{cv::Mat(height, width, CV_MAKETYPE(CV_16U, channels)), {}};
  constexpr int kBlueFirst = 1;
  error = raw->copy_mem_image(stored.pixels.data, static_cast<int>(stored.pixels.step), kBlueFirst);
  if (error != LIBRAW_SUCCESS) return failure_of(error, name);
  return stored;
}

}  // namespace papillote::image
