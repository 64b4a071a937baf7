#include <cstddef>
#include <cstdint>
#include <string_view>

#include "stages/interpretation/coordinates.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  (void)papillote::interpretation::read_coordinates(text);
  return 0;
}
