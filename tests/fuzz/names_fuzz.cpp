#include <cstddef>
#include <cstdint>
#include <string_view>

#include "stages/interpretation/numbers.h"
#include "stages/interpretation/people.h"
#include "stages/interpretation/taxa.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  (void)papillote::interpretation::read_people(text);
  (void)papillote::interpretation::read_taxon(text);
  (void)papillote::interpretation::read_sex(text);
  (void)papillote::interpretation::read_type_status(text);
  (void)papillote::interpretation::read_number(text);
  return 0;
}
