#include <memory>

#include <libexif/exif-data.h>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

std::string text_of(ExifData* exif, ExifIfd part, ExifTag tag) {
  ExifEntry* entry = exif_content_get_entry(exif->ifd[part], tag);
  if (!entry || entry->format != EXIF_FORMAT_ASCII || !entry->data) return {};
  std::string text(reinterpret_cast<const char*>(entry->data), entry->size);
  return text.substr(0, text.find('\0'));
}

std::string trimmed(std::string text) {
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text.substr(std::min(text.find_first_not_of(' '), text.size()));
}

}  // namespace

std::string iso_time(std::string_view exif_time) {
  constexpr std::string_view shape = "dddd:dd:dd dd:dd:dd";
  if (exif_time.size() < shape.size()) return {};
  std::string iso(exif_time.substr(0, shape.size()));
  for (std::size_t i = 0; i < shape.size(); ++i)
    if (shape[i] == 'd' ? iso[i] < '0' || iso[i] > '9' : iso[i] != shape[i]) return {};
  if (iso.starts_with("0000")) return {};
  iso[4] = iso[7] = '-';
  iso[10] = 'T';
  return iso;
}

std::string camera_name(std::string make, std::string model) {
  make = trimmed(std::move(make));
  model = trimmed(std::move(model));
  if (model.starts_with(make) || make.empty()) return model;
  return trimmed(make + " " + model);
}

void read_exif(Bytes block, Header& header) {
  constexpr std::size_t kFarEnough = 1 << 20;  // the block stands before the pixels and is under 64 KiB
  const auto size = static_cast<unsigned>(std::min(block.size(), kFarEnough));
  const std::unique_ptr<ExifData, void (*)(ExifData*)> exif(
      exif_data_new_from_data(reinterpret_cast<const unsigned char*>(block.data()), size), exif_data_unref);
  if (!exif) return;
  if (ExifEntry* entry = exif_content_get_entry(exif->ifd[EXIF_IFD_0], EXIF_TAG_ORIENTATION);
      entry && entry->format == EXIF_FORMAT_SHORT && entry->size >= 2)
    header.orientation = exif_get_short(entry->data, exif_data_get_byte_order(exif.get()));
  header.taken = iso_time(text_of(exif.get(), EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL));
  if (header.taken.empty()) header.taken = iso_time(text_of(exif.get(), EXIF_IFD_0, EXIF_TAG_DATE_TIME));
  header.camera = camera_name(text_of(exif.get(), EXIF_IFD_0, EXIF_TAG_MAKE), text_of(exif.get(), EXIF_IFD_0, EXIF_TAG_MODEL));
}

}  // namespace papillote::image
