// Character and word error: Levenshtein edits over the length of the reference.
//
// Both texts are put in Unicode NFC first; case, accents and punctuation count; a character is a code point; words stand
// between blanks.
#pragma once

#include <cstddef>
#include <string_view>

namespace papillote::evaluation {

struct Errors {
  std::size_t edits = 0;
  std::size_t length = 0;

  Errors& operator+=(const Errors& more) {
    edits += more.edits;
    length += more.length;
    return *this;
  }
  [[nodiscard]] double rate() const { return length == 0 ? 0 : static_cast<double>(edits) / static_cast<double>(length); }
};

[[nodiscard]] Errors character_errors(std::string_view reference, std::string_view read);
[[nodiscard]] Errors word_errors(std::string_view reference, std::string_view read);

}  // namespace papillote::evaluation
