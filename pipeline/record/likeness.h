// How far two readings of the same writing agree.
#pragma once

#include <string>
#include <string_view>

namespace papillote {

// Without blanks and in small letters (ASCII; other bytes as they are): these are the first that two readings differ in.
[[nodiscard]] std::string without_blanks(std::string_view text);

// 1 = equal, 0 = nothing in common: edit distance in bytes (Levenshtein 1966) against the longer text.
[[nodiscard]] double likeness(std::string_view a, std::string_view b);

}  // namespace papillote
