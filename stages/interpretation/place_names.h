// Spelling of place names: one key for every way of writing the same name, and how far two keys are apart for a
// reader of handwriting.
//
// A key is lower-case ASCII: Latin letters lose their marks ("Kraków" -> "krakow"), apostrophes vanish, other
// punctuation becomes one space, common words of names are shortened to one form in every language that has
// them ("Mount", "Mt." -> "mt"; "Santa", "Sta." -> "sta"), and initials join ("U. S. A." -> "usa").
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

// Lower-case ASCII letters and digits of a text in Latin script, words separated by single spaces. Letters of
// other scripts, and bytes that are not UTF-8, are dropped. `U+00E5` in angle brackets, as some tables export
// letters outside their character set, counts as the letter itself.
std::string folded(std::string_view utf8);

// True when every letter of the text is Latin.
bool is_latin(std::string_view utf8);

// One word of a text; begin and end are byte offsets.
struct NameWord {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::string letters;   // folded, not shortened
  std::string key;       // shortened to the common form
  bool capital = false;  // begins with a capital letter
  bool upper = false;    // all its letters are capitals
  bool number = false;   // digits (with decimal sign) only
  bool dotted = false;   // directly followed by a full stop
  // What stands before the word: 0 a space or a hyphen, 1 a full stop that may end an abbreviation, 2 a comma,
  // 3 anything stronger (semicolon, colon, bar, bracket, line break, end of a sentence).
  int gap = 0;
};

std::vector<NameWord> words_of(std::string_view utf8);

// Joins the keys of words, letting single letters run together.
std::string key_of(const NameWord* first, const NameWord* last);
std::string name_key(std::string_view utf8);

// The key of a division without the words that say what kind of division it is: "prov toledo" -> "toledo".
std::string without_kind_words(std::string_view key);

// A coarser key in which letters that readers of old hands confuse are equal (rn and m, cl and d, long s and f,
// u and n, i l j 1, a and o, c and e, ...), doubled letters are single and spaces are gone.
std::string skeleton(std::string_view key);

// Weighted edit distance: 1 for a letter wrong, missing or too many; less where readers commonly err. Stops
// early and returns a value above `most` once no answer within it is possible.
double reading_distance(std::string_view a, std::string_view b, double most);

}  // namespace papillote::interpretation
