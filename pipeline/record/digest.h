// SHA-256 of bytes (FIPS 180-4, by OpenSSL): the identity of photographs, models and answers.
#pragma once

#include <compare>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>

namespace papillote {

struct Digest {
  std::string hex;  // 64 lower-case hexadecimal digits; empty = no digest taken

  auto operator<=>(const Digest&) const = default;
};

[[nodiscard]] Digest digest_of(std::span<const std::byte> bytes);
[[nodiscard]] Digest digest_of(std::string_view text);

}  // namespace papillote
