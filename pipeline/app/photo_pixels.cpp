#include "pipeline/app/photo_pixels.h"

#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <set>
#include <string>

#include "pipeline/record/digest.h"
#include "pipeline/store/photographs.h"

namespace papillote::app {
Result<std::string> processed_bytes(store::Store& store, const Photo& photo) {
  const auto file = store::file_of(store, photo.path);
  std::ifstream in;
  if (file) in.open(*file, std::ios::binary);
  if (!in)
    return Failure{"app", "unreadable", photo.path + " is not where it was when it was processed.",
                   "Bring it back, or process its new folder."};
  std::string bytes{std::istreambuf_iterator<char>(in), {}};
  if (digest_of(bytes) != photo.sha256)
    return Failure{"app", "changed", photo.path + " is not the photograph that was processed.", "Process its folder again."};
  return bytes;
}

namespace {

Result<image::Image> read(store::Store& store, const Photo& photo) {
  const auto bytes = processed_bytes(store, photo);
  if (!bytes) return bytes.failure();
  return image::decode(std::as_bytes(std::span(*bytes)), photo.path);
}

}  // namespace

bench::PhotoSource photo_pixels(store::Store& store) {
  struct Last {
    Digest sha256;
    image::Image image;
  };
  return [&store, last = std::make_shared<std::optional<Last>>(),
          said = std::make_shared<std::set<std::string>>()](const Photo& photo) -> std::optional<image::Image> {
    if (*last && (*last)->sha256 == photo.sha256) return (*last)->image;
    auto image = read(store, photo);
    if (!image.ok()) {
      if (said->insert(photo.path).second)
        std::cerr << "papillote: " << image.failure().reason << " Its pictures are left out. " << image.failure().remedy
                  << '\n';
      return std::nullopt;
    }
    *last = Last{photo.sha256, std::move(image).value()};
    return (*last)->image;
  };
}

}  // namespace papillote::app
