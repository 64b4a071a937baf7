// Words and numbers that can be part of a date, with what stands between them. Private to the reading of dates.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

// What a word means around a date.
enum class Sense {
  none,
  filler,
  to,
  both,
  either,
  circa,
  uncertain,
  before,
  after,
  until,
  since,
  between,
  from,
  part_of,
  decade_start,
  century,
  unit,
  number_sign,
  other_event,
  collecting,
  earlier,
  later,
};

inline constexpr std::size_t kLongestGap = 16;  // bytes; a wider one parts two statements

// The signs between two words.
struct Gap {
  bool usable = true;
  bool space = false, dot = false, comma = false, dash = false, slash = false, query = false, blank = false, apostrophe = false;
  bool ampersand = false, tilde = false, colon = false, ring = false;

  bool tight() const { return dot || dash || slash || colon || !space; }
};

[[nodiscard]] Gap gap_between(std::string_view text, std::size_t begin, std::size_t end);

struct Atom {
  std::size_t begin = 0, end = 0;
  std::string folded{};        // letters only
  int number = -1;             // digits only
  int digits = 0;              // how many were written
  int month = 0;               // 1-12 by name
  int roman = 0;               // by roman numeral
  int season = 0;              // 21-24
  std::string year_pattern{};  // "192X": a year with unknown digits
  Sense sense = Sense::none;
  bool noisy = false;          // a misread letter or digit was repaired
  bool two_or_eleven = false;  // "ll" may be roman ii or arabic 11
  bool measured = false;       // a number with a unit, a number sign, or part of a longer number: no part of a date
  bool numbered = false;       // "no. 1903": no year by itself
  bool apostrophe = false;     // "'87"

  bool is_number() const { return digits > 0; }
  // Of one or two digits, and not known to be anything else than a day or a month.
  bool may_be_day() const { return is_number() && !measured && digits <= 2 && !apostrophe && year_pattern.empty(); }
};

[[nodiscard]] std::vector<Atom> cut_atoms(std::string_view text);

}  // namespace papillote::interpretation
