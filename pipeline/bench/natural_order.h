// The order in which people number things: "tin 2" before "tin 10".
#pragma once

#include <string_view>

namespace papillote::bench {

// Negative, zero or positive, as of strings; runs of digits compare by value, then "7" before "07". A strict weak order.
[[nodiscard]] int natural_compare(std::string_view left, std::string_view right);

}  // namespace papillote::bench
