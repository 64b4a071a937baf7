// Universally unique identifiers made from names: the same name gives the same identifier for ever.
#pragma once

#include <string>
#include <string_view>

namespace papillote {

// Version 5 of RFC 9562: SHA-1 of the name space and the name. `name_space` is a UUID of 36 characters in any case; the
// answer has small letters.
[[nodiscard]] std::string uuid_v5(std::string_view name_space, std::string_view name);

}  // namespace papillote
