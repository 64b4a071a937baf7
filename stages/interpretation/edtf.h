// Dates as the Extended Date/Time Format (ISO 8601-2; Library of Congress specification of 2019-02-04, levels 0 to 2).
//
// A value keeps every character as written, so print(parse(x)) == x for every valid x.
// Decisions where the specification is silent:
//  - an interval that states neither end ("/..", "../", "../..") is refused: it says nothing;
//  - "2012-24/2012-21" is accepted: the winter that opens a year comes before its spring;
//  - sets may hold any date without a time of day.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

// Year, month or day: digits with 'X' for an unknown one, and the marks '?', '~' or '%' around it (0 = none).
// A mark on the left qualifies this part alone, a mark on the right this part and all to its left.
struct EdtfPart {
  std::string digits;
  char left_mark = 0;
  char right_mark = 0;

  bool operator==(const EdtfPart&) const = default;
};

struct EdtfDate {
  EdtfPart year;               // "1934", "XX34", "-1985", "Y170000002", "Y-17E7"
  EdtfPart month;              // "07", "1X", or a season or grouping "21" to "41"; empty = not stated
  EdtfPart day;                // empty = not stated
  int significant_digits = 0;  // "1950S2"; 0 = not stated
  std::string time;            // "T23:20:30Z"; empty = not stated

  bool operator==(const EdtfDate&) const = default;
};

struct Edtf {
  enum class Kind { date, interval, one_of, all_of };
  enum class End { stated, open, unknown };

  // A span of days, or one date (`last` empty and `last_end` stated).
  struct Member {
    std::optional<EdtfDate> first, last;
    End first_end = End::stated, last_end = End::stated;

    bool operator==(const Member&) const = default;
  };

  Kind kind = Kind::date;
  std::vector<Member> members;  // one for a date and for an interval

  bool operator==(const Edtf&) const = default;
};

// Nothing when the text is not valid EDTF.
[[nodiscard]] std::optional<Edtf> parse_edtf(std::string_view text);
[[nodiscard]] std::string print_edtf(const Edtf&);

// Lowest level of the specification that the value needs: 0, 1 or 2.
[[nodiscard]] int level_of(const Edtf&);

// First and last day that the value allows, at face value (marks do not widen it); nothing = unbounded, or a year
// beyond four digits. The specification gives seasons no months. Our rule, for search only: three-month
// meteorological seasons, of both hemispheres where none is stated, a southern summer and a northern winter
// beginning in the year that is written or ending in it.
struct DayBounds {
  std::optional<std::chrono::sys_days> first, last;

  bool operator==(const DayBounds&) const = default;
};
[[nodiscard]] DayBounds day_bounds(const Edtf&);

// "1934-07-12"
[[nodiscard]] std::string iso_day(std::chrono::sys_days);

}  // namespace papillote::interpretation
