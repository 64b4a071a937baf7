// Answers as the store keeps them: whatever is read is written the same.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "pipeline/record/codec.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto json = nlohmann::json::parse(text, nullptr, false);
  if (json.is_discarded()) return 0;
  const std::string once = papillote::canonical(json);
  if (papillote::canonical(nlohmann::json::parse(once)) != once) __builtin_trap();
  try {
    const auto index = json.get<papillote::PhotoIndex>();
    (void)papillote::canonical(nlohmann::json(index));
  } catch (const nlohmann::json::exception&) {
    return 0;  // expected of any JSON that is no record
  }
  return 0;
}
