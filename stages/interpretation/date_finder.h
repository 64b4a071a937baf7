// Where in an annotation a date stands, and which numbers are its day, month and year. Private to the reading of dates.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "stages/interpretation/date_atoms.h"
#include "stages/interpretation/dates.h"

namespace papillote::interpretation {

struct DateYear {
  int value = -1;         // four digits
  int two_digits = -1;    // century open
  std::string pattern{};  // "192X"

  bool known() const { return value >= 0 || two_digits >= 0 || !pattern.empty(); }
};

// One date, perhaps without its year, month or day.
struct DatePart {
  std::string_view form;   // components in the order written, such as "DMY"; 'N' is a number that is day or month
  int day = 0, month = 0;  // 0 = not stated; month 21-24 = season
  int first_number = 0, second_number = 0;  // of form "NN" and "NNY"
  bool day_blank = false;                   // "XX DEC 1932"
  bool day_uncertain = false, month_uncertain = false;
  DateYear year{};
  std::size_t first = 0, last = 0;  // atoms
  bool noisy = false, two_or_eleven = false, roman = false, circa = false, year_first_possible = false;
  bool month_or_year = false;  // "VI.12": the number may be a day or a year
  std::string impossible{};    // reason
  double score = 0;

  bool has(char component) const { return form.find(component) != std::string_view::npos; }
};

// Form "NN" or "NNY": two numbers of which one is the day.
[[nodiscard]] inline bool is_numeric(const DatePart& part) { return part.form == "NN" || part.form == "NNY"; }

enum class Order { day_first, month_first, open };
[[nodiscard]] Order order_of(const DatePart&, const DateContext&);

enum class Relation { single, range, both, either, list };

struct DateCandidate {
  DatePart from, to;
  Relation relation = Relation::single;
  std::size_t first = 0, last = 0;
  double score = 0;
  bool other_event = false;
  std::string impossible{};
  // Of a list: each entry a date, or the first and last of a range. `from` then holds the last entry.
  std::vector<std::pair<DatePart, std::optional<DatePart>>> entries{};
  bool one_of = false;
  bool bare = false;       // the text holds nothing else
  bool tight = false;      // a sign and no space alone stands after the first atom
  bool point = false;      // a full stop stands there
  std::size_t others = 0;  // equally good dates that follow
};

// Days of the month; 29 for a February whose year is not known (-1).
[[nodiscard]] int last_day(int month, int year);

// The date that is most surely one of collecting; nothing when there is none.
[[nodiscard]] std::optional<DateCandidate> find_date(std::string_view text, const std::vector<Atom>& atoms,
                                                     const DateContext& context);

}  // namespace papillote::interpretation
