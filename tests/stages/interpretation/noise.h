// Texts that no reader should ever produce, from a fixed seed.
#pragma once

#include <random>
#include <string>
#include <string_view>

namespace papillote::interpretation {

inline std::string random_bytes(std::mt19937& random, std::size_t most) {
  std::string text(random() % (most + 1), '\0');
  for (char& c : text) c = static_cast<char>(random() % 256);
  return text;
}

// Pieces of annotations in any order: closer to the grammar than bytes are, so it gets deeper into the parsers.
inline std::string random_annotation(std::mt19937& random, std::size_t most_pieces) {
  static constexpr std::string_view kPieces[] = {
      "12",          "vii",    "1909",  "09",       ".",         "-",   "/",      " ",        ",",     "'",
      "°",           "\"",     "N",     "S",        "W",         "E",   "O",      "ft",       "m",     "alt.",
      "leg.",        "det.",   "Juni",  "June",     "août",      "ca.", "?",      "(",        ")",     "[",
      "]",           "XX",     "19__",  "1920s",    "to",        "bis", "and",    "before",   "after", "Spring",
      "7bre",        "ll",     "l2",    "1O",       "V1",        "31",  "00",     "2000",     "18",    "–",
      "\n",          "\t",     "\xff",  "\xe2\x80", "Paris",     "17T", "630000", "4833400",  "long",  "lat",
      "♂",           "♀",      "sp.",   "Papilio",  "machaon",   "No.", "#",      "ex coll.", "v.",    "\u202e",
      "=HYPERLINK(", "~",      "%",     "..",       "X",         "{",   "}",      "-04-",     "1e9",   "999999999999999999999",
      "0",           "5-6000", "5000'", "s.n.m.",   "sea level", "&",   "or",     "earlier"};
  std::string text;
  const std::size_t pieces = random() % (most_pieces + 1);
  for (std::size_t i = 0; i < pieces; ++i) text += kPieces[random() % std::size(kPieces)];
  return text;
}

}  // namespace papillote::interpretation
