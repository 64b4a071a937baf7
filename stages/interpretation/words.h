// An annotation cut into words, numbers and signs, each with the bytes it stands on.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

struct Word {
  enum class Kind { letters, digits, sign };

  Kind kind = Kind::sign;
  std::size_t begin = 0, end = 0;  // bytes of the text
  std::string folded;              // lower case, no accents, ASCII where the script allows; as written for digits and signs

  bool operator==(const Word&) const = default;
};

// White space parts words and is no word. Any bytes will do: what is not UTF-8 becomes a sign of one byte.
[[nodiscard]] std::vector<Word> cut_words(std::string_view text);

// Lower case without accents: "Décembre" -> "decembre", "Fuß" -> "fuss", "Mär" -> "mar".
[[nodiscard]] std::string fold(std::string_view text);

}  // namespace papillote::interpretation
