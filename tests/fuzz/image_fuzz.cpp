// Every decoder of photographs, by the first bytes of the file.
#include <cstddef>
#include <cstdint>
#include <span>

#include "pipeline/image/image.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto bytes = std::as_bytes(std::span(data, size));
  constexpr papillote::image::Limits kSmall{4};
  (void)papillote::image::decode(bytes, "a", kSmall);
  (void)papillote::image::decode_original(bytes, "a", kSmall);
  return 0;
}
