// The check character of printed numbers: ISO 7064 MOD 37-36, one character of 0-9 A-Z that catches every single
// misread character and nearly every swap of neighbours.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace papillote {

// Over the letters and digits of `number`; blanks and - . / _ are skipped, small letters count as capitals.
// Nothing when there is no letter or digit, or any other character.
[[nodiscard]] std::optional<char> check_character(std::string_view number);

// Whether the last letter or digit of `number` is the check character of what precedes it.
[[nodiscard]] bool is_checked(std::string_view number);

}  // namespace papillote
