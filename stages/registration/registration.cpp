#include "stages/registration/registration.h"

#include "pipeline/image/image.h"

namespace papillote::registration {

Result<Photo> register_photo(const std::string& path, std::span<const std::byte> bytes) {
  if (bytes.empty())
    return Failure{std::string(stage.name), "empty", path + ": the file is empty.",
                   "Copy the photograph from the camera again; if it stays empty, take it again."};
  const Result<image::Header> header = image::read_header(bytes, path);
  if (!header) {
    Failure failure = header.failure();
    failure.stage = stage.name;
    return failure;
  }
  return Photo{path,           digest_of(bytes), header->format, header->width_px, header->height_px, header->taken,
               header->camera};
}

}  // namespace papillote::registration
