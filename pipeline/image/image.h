// Photographs in memory: decoding within limits, upright after EXIF, cut-outs.
//
// JPEG by libjpeg-turbo, PNG by libpng, TIFF (8 and 16 bit, grey, palette, RGB, CMYK, YCbCr, strips or tiles; the first
// picture of several) by libtiff, camera raw by LibRaw, EXIF by libexif. Pixels are 8-bit, three channels, order B G R
// (OpenCV's), sRGB: embedded profiles are applied by Little CMS.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/envelope.h"
#include "pipeline/record/result.h"

namespace papillote::image {

struct Image {
  cv::Mat bgr;  // CV_8UC3
};

// What the header of an image file says, read without decoding the pixels.
struct Header {
  std::string format;   // "jpeg", "png", "tiff", "raw"
  int width_px = 0;     // after EXIF orientation
  int height_px = 0;
  int orientation = 1;  // EXIF 1..8 as stored
  std::string taken;    // ISO 8601 local time or empty
  std::string camera;
};

struct Limits {
  double most_megapixels = 250;  // a header that claims more is refused before anything is allocated
};

// Failures: "not_an_image", "truncated", "too_large", "unreadable"; each reason begins with `name`.
[[nodiscard]] Result<Header> read_header(std::span<const std::byte> file, const std::string& name, const Limits& = {});

// Decodes and turns upright. A truncated file is a failure even where a decoder would fill it with grey.
[[nodiscard]] Result<Image> decode(std::span<const std::byte> file, const std::string& name, const Limits& = {});

// OpenCV fills its tables of L*a*b* when they are first asked for, without a lock: two threads at once could work with half a
// table. To be called once before threads convert colours.
void prepare_colour_tables();

// Whether the name is that of a camera raw file.
[[nodiscard]] bool is_raw(const std::string& name);

// For the archive: the depth that the file has (8 or 16 bit), one channel or B G R, upright, its profile not applied but
// kept. CMYK is turned to sRGB; raw is developed into it.
struct Original {
  cv::Mat pixels;
  std::vector<std::byte> icc;  // empty = sRGB, or grey of its tone curve
};
[[nodiscard]] Result<Original> decode_original(std::span<const std::byte> file, const std::string& name, const Limits& = {});

// The upright cut-out of `crop`, bicubic; corners outside the photograph are filled with the nearest edge.
[[nodiscard]] cv::Mat rectify(const Image& photo, const Crop& crop);
[[nodiscard]] cv::Mat rectify(const Image& photo, const Quad& quad_px, cv::Size size);
[[nodiscard]] cv::Mat rectify(const cv::Mat& pixels, const Quad& quad_px, cv::Size size);  // of any depth and channels

// 3x3 homography crop <- photograph, for carrying polygons over.
[[nodiscard]] cv::Matx33d crop_from_photo(const Crop& crop);
[[nodiscard]] Polygon carried(const Polygon& polygon, const cv::Matx33d& target_from_source);

// The whole pixels that hold a polygon.
[[nodiscard]] cv::Rect box_of(const Polygon& polygon);

// CV_8U, 255 inside the polygon, of a part of the polygon's plane, `finer` times its scale. Fewer than three corners hold nothing.
[[nodiscard]] cv::Mat inside_of(const Polygon& polygon, const cv::Rect& part, double finer = 1);

// JPEG of quality 1..100, for thumbnails and pages.
[[nodiscard]] std::vector<std::byte> encode_jpeg(const cv::Mat& bgr, int quality);

}  // namespace papillote::image
