#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

struct Format {
  std::string_view magic;
  Result<Header> (*read_header)(Bytes, const std::string&);
  Result<Stored> (*decode)(Bytes, const std::string&);
  Result<Stored> (*decode_original)(Bytes, const std::string&);  // at the depth of the file
};

using namespace std::string_view_literals;
constexpr std::array kFormats{
    Format{"\xff\xd8\xff"sv, read_jpeg_header, decode_jpeg, decode_jpeg},
    Format{"\x89PNG\r\n\x1a\n"sv, read_png_header, decode_png, decode_png_original},
    Format{"II*\0"sv, read_tiff_header, decode_tiff, decode_tiff},
    Format{"MM\0*"sv, read_tiff_header, decode_tiff, decode_tiff},
    Format{"II+\0"sv, read_tiff_header, decode_tiff, decode_tiff},
    Format{"MM\0+"sv, read_tiff_header, decode_tiff, decode_tiff},
};

// Raw files of most makers begin as TIFF files do: what tells them apart is their name.
constexpr Format kRaw{"", read_raw_header, decode_raw, decode_raw};

const Format* format_of(Bytes file, const std::string& name) {
  if (is_raw(name) && !file.empty()) return &kRaw;
  for (const Format& format : kFormats)
    if (file.size() >= format.magic.size() && std::memcmp(file.data(), format.magic.data(), format.magic.size()) == 0)
      return &format;
  return nullptr;
}

Failure not_an_image(Bytes file, const std::string& name) {
  if (file.empty())
    return {"image", "not_an_image", name + ": the file is empty.", "Copy the photograph from the camera again."};
  return {"image", "not_an_image", name + ": this is not a JPEG, PNG or TIFF file.",
          "Save the photograph as JPEG, PNG or TIFF, or move the file out of the folder."};
}

bool swaps_sides(int orientation) { return orientation >= 5; }

// Raw files are turned while they are developed.
int stored_orientation(const Header& header) { return header.format == "raw" ? 1 : header.orientation; }

// EXIF 2.3, tag 0x0112: where row 0 and column 0 of the stored picture belong.
cv::Mat upright(const cv::Mat& stored, int orientation) {
  cv::Mat turned;
  switch (orientation) {
    case 2: cv::flip(stored, turned, 1); return turned;
    case 3: cv::rotate(stored, turned, cv::ROTATE_180); return turned;
    case 4: cv::flip(stored, turned, 0); return turned;
    case 5: cv::transpose(stored, turned); return turned;
    case 6: cv::rotate(stored, turned, cv::ROTATE_90_CLOCKWISE); return turned;
    case 7:
      cv::rotate(stored, turned, cv::ROTATE_180);
      cv::transpose(turned, turned);
      return turned;
    case 8: cv::rotate(stored, turned, cv::ROTATE_90_COUNTERCLOCKWISE); return turned;
    default: return stored;
  }
}

}  // namespace

Failure truncated(const std::string& name) {
  return {"image", "truncated", name + ": the file ends before the picture does.",
          "Copy the photograph from the camera again; if it stays like this, take it again."};
}

Failure unreadable(const std::string& name, std::string_view why) {
  return {"image", "unreadable", name + ": the picture in the file is damaged or of an unknown kind (" + std::string(why) + ").",
          "Open it in a picture program and save it as JPEG or TIFF, or take the photograph again."};
}

Result<Header> read_header(Bytes file, const std::string& name, const Limits& limits) {
  const Format* format = format_of(file, name);
  if (!format) return not_an_image(file, name);
  Result<Header> header = format->read_header(file, name);
  if (!header) return header;
  const double megapixels = double(header->width_px) * double(header->height_px) / 1e6;
  if (megapixels > limits.most_megapixels)
    return Failure{"image", "too_large",
                   name + ": the picture claims " + std::to_string(header->width_px) + " x " +
                       std::to_string(header->height_px) + " pixels, more than is accepted.",
                   "Save it with at most " + std::to_string(int(limits.most_megapixels)) + " megapixels."};
  if (header->orientation < 1 || header->orientation > 8) header->orientation = 1;
  if (swaps_sides(stored_orientation(*header))) std::swap(header->width_px, header->height_px);
  return header;
}

Result<Image> decode(Bytes file, const std::string& name, const Limits& limits) {
  const Result<Header> header = read_header(file, name, limits);
  if (!header) return header.failure();
  Result<Stored> stored = format_of(file, name)->decode(file, name);
  if (!stored) return stored.failure();
  return Image{upright(to_srgb(std::move(stored).value()), stored_orientation(*header))};
}

Result<Original> decode_original(Bytes file, const std::string& name, const Limits& limits) {
  const Result<Header> header = read_header(file, name, limits);
  if (!header) return header.failure();
  Result<Stored> read = format_of(file, name)->decode_original(file, name);
  if (!read) return read.failure();
  Stored stored = std::move(read).value();
  if (stored.pixels.channels() == 4) stored = {to_srgb(std::move(stored)), {}};
  return Original{upright(stored.pixels, stored_orientation(*header)), std::move(stored.icc)};
}

bool is_raw(const std::string& name) {
  constexpr std::array<std::string_view, 10> kEndings{".dng", ".cr2", ".cr3", ".nef", ".arw", ".raf", ".orf", ".rw2", ".pef", ".srw"};
  std::string ending = name.substr(std::min(name.rfind('.'), name.size()));
  for (char& c : ending) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return std::find(kEndings.begin(), kEndings.end(), ending) != kEndings.end();
}

}  // namespace papillote::image
