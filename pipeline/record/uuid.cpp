#include "pipeline/record/uuid.h"

#include <openssl/evp.h>

#include <array>

namespace papillote {
namespace {

unsigned value_of(char digit) {
  if (digit >= '0' && digit <= '9') return static_cast<unsigned>(digit - '0');
  return static_cast<unsigned>((digit | 0x20) - 'a' + 10);
}

}  // namespace

std::string uuid_v5(std::string_view name_space, std::string_view name) {
  std::string seed;
  for (std::size_t i = 0; i + 1 < name_space.size(); ++i) {
    if (name_space[i] == '-') continue;
    seed += static_cast<char>(value_of(name_space[i]) << 4 | value_of(name_space[i + 1]));
    ++i;
  }
  seed += name;
  std::array<unsigned char, EVP_MAX_MD_SIZE> hash{};
  EVP_Digest(seed.data(), seed.size(), hash.data(), nullptr, EVP_sha1(), nullptr);
  hash[6] = static_cast<unsigned char>((hash[6] & 0x0f) | 0x50);  // version 5
  hash[8] = static_cast<unsigned char>((hash[8] & 0x3f) | 0x80);  // variant of the RFC
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (std::size_t i = 0; i < 16; ++i) {
    if (i == 4 || i == 6 || i == 8 || i == 10) text += '-';
    text += kDigits[hash[i] >> 4];
    text += kDigits[hash[i] & 15];
  }
  return text;
}

}  // namespace papillote
