#include <cstddef>
#include <cstdint>
#include <string_view>

#include "stages/interpretation/dates.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  papillote::interpretation::DateContext context;
  context.period = {1850, 1960};
  (void)papillote::interpretation::read_date(text, {});
  (void)papillote::interpretation::read_date(text, context);
  return 0;
}
