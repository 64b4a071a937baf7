// Private to this room: words as the search sees them.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::store {

// Without case, accents and scripts: "Köln Ærø Москва" -> "koln aero moskva" (ICU).
[[nodiscard]] std::string folded(std::string_view text);

// Runs of letters and digits of a folded text.
[[nodiscard]] std::vector<std::string> words_of(std::string_view folded);

// Hashes that near misses share: of the word with look-alike letters made equal (l and i, u and n, rn and m ...), whole and
// with each letter dropped. Every pair one edit apart shares one, and many pairs two apart.
[[nodiscard]] std::vector<std::int64_t> traces_of(std::string_view word);

// Edits between two folded words; exchanging look-alikes costs half. Stops counting beyond `most`.
[[nodiscard]] double misreading(std::string_view a, std::string_view b, double most);

// How much misreading still counts as near for a word of this length.
[[nodiscard]] double near_enough(std::size_t letters);

// Worth a near miss: at least three letters.
[[nodiscard]] bool is_word(std::string_view word);

// Sorts as text the way a person counts: "tin 9" before "tin 10".
[[nodiscard]] std::string natural_key(std::string_view text);

}  // namespace papillote::store
