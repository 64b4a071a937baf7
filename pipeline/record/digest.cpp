#include "pipeline/record/digest.h"

#include <array>
#include <stdexcept>

#include <openssl/evp.h>

namespace papillote {

Digest digest_of(std::span<const std::byte> bytes) {
  std::array<unsigned char, 32> sum{};
  unsigned int length = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), sum.data(), &length, EVP_sha256(), nullptr) != 1)
    throw std::runtime_error("SHA-256 is not available in this OpenSSL");
  constexpr std::string_view digits = "0123456789abcdef";
  Digest digest;
  digest.hex.reserve(2 * sum.size());
  for (const unsigned char byte : sum) {
    digest.hex.push_back(digits[byte >> 4]);
    digest.hex.push_back(digits[byte & 15]);
  }
  return digest;
}

Digest digest_of(std::string_view text) { return digest_of(std::as_bytes(std::span(text))); }

}  // namespace papillote
