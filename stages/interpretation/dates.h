// The date that an annotation states, as EDTF, never more exact than the paper.
//
// What is decided here, and what is left open:
//  - a year of two digits stays open ("XX34-07-12") unless the period of the tin allows exactly one century; the year
//    is then marked as uncertain ("1934?-07-12"); two centuries give a set;
//  - day and month both 12 or less: a set of both dates, unless `order` or the text itself settles it;
//  - a day that the calendar does not have is never moved to another: no value, and the reason;
//  - "before 1914" is one day somewhere before 1914: "[..1913]", not an interval;
//  - a season gets the level 2 code of a hemisphere only where the hemisphere is known;
//  - a date after "det." or the like dates the determination and is not taken.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace papillote::interpretation {

struct DateContext {
  enum class Order { unknown, day_month, month_day };
  enum class Hemisphere { unknown, north, south };

  std::optional<std::pair<int, int>> period;  // first and last year that the tin may hold
  Order order = Order::unknown;
  Hemisphere hemisphere = Hemisphere::unknown;
};

struct DateReading {
  std::string verbatim;                                      // the characters of the date, as they stand
  std::size_t begin = 0, end = 0;                            // bytes of the text; begin == end when no date was found
  std::optional<std::string> edtf;                           // nothing = left open
  double confidence = 0;                                     // chance that `edtf` is right
  std::vector<std::pair<std::string, double>> alternatives;  // other EDTF readings, best first
  std::vector<std::string> reasons;                          // sentences
};

// Any bytes; time grows in proportion to the length.
[[nodiscard]] DateReading read_date(std::string_view text, const DateContext&);

// First and last year of "1895/1904"; nothing for what is no span of years.
[[nodiscard]] std::optional<std::pair<int, int>> read_period(std::string_view text);

}  // namespace papillote::interpretation
