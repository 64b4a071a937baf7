// Text as every reader takes it.
#pragma once

#include <string>

namespace papillote::exports {

// Bytes that are no UTF-8 become U+FFFD.
[[nodiscard]] std::string valid_utf8(const std::string& text);

}  // namespace papillote::exports
