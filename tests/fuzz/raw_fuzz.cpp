#include <cstddef>
#include <cstdint>
#include <span>

#include "pipeline/image/image.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  constexpr papillote::image::Limits kSmall{4};
  (void)papillote::image::decode(std::as_bytes(std::span(data, size)), "a.dng", kSmall);
  return 0;
}
