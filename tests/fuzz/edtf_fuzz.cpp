#include <cstddef>
#include <cstdint>
#include <string_view>

#include "stages/interpretation/edtf.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  if (const auto value = papillote::interpretation::parse_edtf(text)) {
    if (papillote::interpretation::print_edtf(*value) != text) __builtin_trap();
    (void)papillote::interpretation::day_bounds(*value);
  }
  return 0;
}
