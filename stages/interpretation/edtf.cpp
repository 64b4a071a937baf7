#include "stages/interpretation/edtf.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace papillote::interpretation {
namespace {

using std::chrono::day;
using std::chrono::days;
using std::chrono::month;
using std::chrono::months;
using std::chrono::sys_days;
using std::chrono::year;

constexpr int kFirstSeason = 21, kLastGrouping = 41, kLastLevel1Season = 24;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_mark(char c) { return c == '?' || c == '~' || c == '%'; }

std::optional<int> whole_number(std::string_view digits) {
  int value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || end != digits.data() + digits.size()) return std::nullopt;
  return value;
}

// Does `value`, written with leading zeros, fit digits of which some may be X?
bool fits(std::string_view digits, int value) {
  for (auto c = digits.rbegin(); c != digits.rend(); ++c) {
    if (*c != 'X' && *c != static_cast<char>('0' + value % 10)) return false;
    value /= 10;
  }
  return value == 0;
}

bool has_unknown(std::string_view digits) { return digits.find('X') != std::string_view::npos; }

bool is_grouping(const EdtfDate& date) {
  const auto code = whole_number(date.month.digits);
  return code && *code >= kFirstSeason;
}

bool is_leap(long y) { return (y % 4 == 0 && y % 100 != 0) || y % 400 == 0; }

int days_in_month(bool leap, int m) {
  constexpr int kDays[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return m == 2 && leap ? 29 : kDays[m - 1];
}

// Four-character year patterns as the years they allow; the sign of a negative year is kept.
struct YearSpan {
  long least, most;
};

std::optional<YearSpan> four_digit_years(const EdtfDate& date) {
  std::string_view digits = date.year.digits;
  const bool negative = digits.starts_with('-');
  if (negative) digits.remove_prefix(1);
  if (digits.size() != 4 || digits.starts_with('Y')) return std::nullopt;
  std::string least(digits), most(digits);
  std::ranges::replace(least, 'X', '0');
  std::ranges::replace(most, 'X', '9');
  YearSpan span{*whole_number(least), *whole_number(most)};
  if (date.significant_digits > 0) {
    const long unit = std::lround(std::pow(10, 4 - date.significant_digits));
    span = {span.least / unit * unit, span.least / unit * unit + unit - 1};
  }
  if (negative) span = {-span.most, -span.least};
  return span;
}

// Size of a year of any length, good enough to see that an interval runs backwards.
double year_size(const EdtfDate& date, bool latest) {
  if (const auto span = four_digit_years(date)) return static_cast<double>(latest ? span->most : span->least);
  std::string_view digits = std::string_view(date.year.digits).substr(1);
  const auto exponent_at = digits.find('E');
  const double mantissa = std::strtod(std::string(digits.substr(0, exponent_at)).c_str(), nullptr);
  if (exponent_at == std::string_view::npos) return mantissa;
  return mantissa * std::pow(10.0, std::strtod(std::string(digits.substr(exponent_at + 1)).c_str(), nullptr));
}

class Parser {
 public:
  explicit Parser(std::string_view text) : rest_(text) {}

  std::optional<Edtf> whole() {
    if (rest_.empty()) return std::nullopt;
    Edtf value;
    if (rest_.front() == '[' || rest_.front() == '{') {
      const bool one = rest_.front() == '[';
      if (rest_.back() != (one ? ']' : '}') || rest_.size() < 3) return std::nullopt;
      rest_ = rest_.substr(1, rest_.size() - 2);
      value.kind = one ? Edtf::Kind::one_of : Edtf::Kind::all_of;
      if (!members(value)) return std::nullopt;
      return value;
    }
    if (const auto slash = rest_.find('/'); slash != std::string_view::npos) {
      value.kind = Edtf::Kind::interval;
      Edtf::Member span;
      const auto left = rest_.substr(0, slash), right = rest_.substr(slash + 1);
      if (!interval_end(left, span.first, span.first_end) || !interval_end(right, span.last, span.last_end))
        return std::nullopt;
      if (!span.first && !span.last) return std::nullopt;
      if (span.first && span.last && backwards(*span.first, *span.last)) return std::nullopt;
      value.members.push_back(std::move(span));
      return value;
    }
    auto date = date_of(rest_);
    if (!date) return std::nullopt;
    value.members.push_back({.first = std::move(date), .last = {}});
    return value;
  }

 private:
  static bool interval_end(std::string_view text, std::optional<EdtfDate>& date, Edtf::End& end) {
    if (text.empty()) {
      end = Edtf::End::unknown;
      return true;
    }
    if (text == "..") {
      end = Edtf::End::open;
      return true;
    }
    date = date_of(text);
    return date && date->time.empty();
  }

  static bool backwards(const EdtfDate& first, const EdtfDate& last) {
    const auto from = day_bounds({Edtf::Kind::date, {{.first = first, .last = {}}}}).first;
    const auto to = day_bounds({Edtf::Kind::date, {{.first = last, .last = {}}}}).last;
    if (from && to) return *from > *to;
    return year_size(first, false) > year_size(last, true);
  }

  bool members(Edtf& value) {
    std::size_t begin = 0;
    const std::string_view list = rest_;
    while (begin <= list.size()) {
      const auto comma = std::min(list.find(',', begin), list.size());
      const std::string_view item = list.substr(begin, comma - begin);
      const bool is_first = begin == 0, is_last = comma == list.size();
      Edtf::Member member;
      if (const auto dots = item.find(".."); dots != std::string_view::npos) {
        const auto left = item.substr(0, dots), right = item.substr(dots + 2);
        if (left.empty() && right.empty()) return false;
        if (left.empty() ? !is_first : right.empty() && !is_last) return false;
        if (!left.empty() && !(member.first = date_of(left))) return false;
        if (!right.empty() && !(member.last = date_of(right))) return false;
        if (left.empty()) member.first_end = Edtf::End::open;
        if (right.empty()) member.last_end = Edtf::End::open;
        if (member.first && member.last) {
          const bool one_precision = member.first->month.digits.empty() == member.last->month.digits.empty() &&
                                     member.first->day.digits.empty() == member.last->day.digits.empty();
          if (!one_precision || backwards(*member.first, *member.last)) return false;
        }
      } else if (!(member.first = date_of(item))) {
        return false;
      }
      for (const auto& date : {member.first, member.last}) {
        if (date && !date->time.empty()) return false;
      }
      value.members.push_back(std::move(member));
      begin = comma + 1;
    }
    return true;
  }

  static std::optional<EdtfDate> date_of(std::string_view text) {
    Parser parser(text);
    auto date = parser.date();
    if (!date || !parser.rest_.empty()) return std::nullopt;
    return date;
  }

  char peek() const { return rest_.empty() ? '\0' : rest_.front(); }
  char take() {
    const char c = peek();
    rest_.remove_prefix(1);
    return c;
  }

  std::string take_digits(bool allow_unknown, std::size_t most) {
    std::string digits;
    while (digits.size() < most && (is_digit(peek()) || (allow_unknown && peek() == 'X'))) digits += take();
    return digits;
  }

  std::optional<EdtfDate> date() {
    EdtfDate date;
    if (is_mark(peek())) date.year.left_mark = take();
    if (peek() == 'Y') return long_year(std::move(date));
    if (peek() == '-') date.year.digits += take();
    const std::string digits = take_digits(true, 4);
    if (digits.size() != 4 || (!date.year.digits.empty() && digits == "0000")) return std::nullopt;
    date.year.digits += digits;
    if (peek() == 'S') return significant(std::move(date), 4);
    if (is_mark(peek())) date.year.right_mark = take();
    if (!next_part(date.month)) return std::nullopt;
    if (!date.month.digits.empty() && !next_part(date.day)) return std::nullopt;
    if (peek() == 'T' && !take_time(date)) return std::nullopt;
    if (!possible(date)) return std::nullopt;
    return date;
  }

  std::optional<EdtfDate> long_year(EdtfDate date) {
    date.year.digits += take();
    if (peek() == '-') date.year.digits += take();
    const std::string digits = take_digits(false, 18);
    if (digits.empty() || digits.front() == '0') return std::nullopt;
    date.year.digits += digits;
    std::size_t length = digits.size();
    if (peek() == 'E') {
      date.year.digits += take();
      const std::string exponent = take_digits(false, 3);
      if (exponent.empty() || exponent.front() == '0') return std::nullopt;
      date.year.digits += exponent;
      length += static_cast<std::size_t>(*whole_number(exponent));
    }
    if (length < 5) return std::nullopt;
    if (peek() == 'S') return significant(std::move(date), length);
    if (is_mark(peek())) date.year.right_mark = take();
    return date;
  }

  std::optional<EdtfDate> significant(EdtfDate date, std::size_t year_length) {
    if (has_unknown(date.year.digits)) return std::nullopt;
    take();
    const std::string digits = take_digits(false, 3);
    const auto count = whole_number(digits);
    if (!count || digits.front() == '0' || static_cast<std::size_t>(*count) > year_length) return std::nullopt;
    date.significant_digits = *count;
    if (is_mark(peek())) date.year.right_mark = take();
    return date;
  }

  bool next_part(EdtfPart& part) {
    if (peek() != '-') return true;
    take();
    if (is_mark(peek())) part.left_mark = take();
    part.digits = take_digits(true, 2);
    if (part.digits.size() != 2) return false;
    if (is_mark(peek())) part.right_mark = take();
    return true;
  }

  bool take_time(EdtfDate& date) {
    const bool plain_day = !date.day.digits.empty() && !has_unknown(date.year.digits + date.month.digits + date.day.digits);
    const bool marked = date.year.left_mark || date.year.right_mark || date.month.left_mark || date.month.right_mark ||
                        date.day.left_mark || date.day.right_mark;
    if (!plain_day || marked) return false;
    const auto two_digits = [](std::string_view text, int most) {
      const auto value = text.size() == 2 ? whole_number(text) : std::nullopt;
      return value && is_digit(text[0]) && *value <= most;
    };
    const std::string_view t = rest_;
    if (t.size() < 9 || t[3] != ':' || t[6] != ':') return false;
    if (!two_digits(t.substr(1, 2), 23) || !two_digits(t.substr(4, 2), 59) || !two_digits(t.substr(7, 2), 59)) return false;
    const std::string_view zone = t.substr(9);
    const bool signed_zone = zone.starts_with('+') || zone.starts_with('-');
    const bool zone_ok = zone.empty() || zone == "Z" ||
                         (signed_zone && zone.size() == 3 && two_digits(zone.substr(1, 2), 23)) ||
                         (signed_zone && zone.size() == 6 && zone[3] == ':' && two_digits(zone.substr(1, 2), 23) &&
                          two_digits(zone.substr(4, 2), 59));
    if (!zone_ok) return false;
    date.time = std::string(t);
    rest_ = {};
    return true;
  }

  static bool possible(const EdtfDate& date) {
    if (date.month.digits.empty()) return true;
    if (is_grouping(date)) return *whole_number(date.month.digits) <= kLastGrouping && date.day.digits.empty();
    const auto years = *four_digit_years(date);
    const bool unknown_year = has_unknown(date.year.digits);
    for (int m = 1; m <= 12; ++m) {
      if (!fits(date.month.digits, m)) continue;
      if (date.day.digits.empty()) return true;
      // An unknown digit in the year leaves a leap year possible unless the span is a single century year such as 190X.
      bool leap = false;
      for (long y = years.least; y <= years.most && !leap; ++y) {
        leap = is_leap(y) &&
               (!unknown_year || fits(date.year.digits.substr(date.year.digits.size() - 4), static_cast<int>(std::abs(y))));
      }
      for (int d = 1; d <= days_in_month(leap, m); ++d) {
        if (fits(date.day.digits, d)) return true;
      }
    }
    return false;
  }

  std::string_view rest_;
};

std::string print_part(const EdtfPart& part) {
  std::string text;
  if (part.left_mark) text += part.left_mark;
  text += part.digits;
  if (part.right_mark) text += part.right_mark;
  return text;
}

std::string print_date(const EdtfDate& date) {
  std::string text;
  if (date.year.left_mark) text += date.year.left_mark;
  text += date.year.digits;
  if (date.significant_digits > 0) text += fmt::format("S{}", date.significant_digits);
  if (date.year.right_mark) text += date.year.right_mark;
  if (!date.month.digits.empty()) text += '-' + print_part(date.month);
  if (!date.day.digits.empty()) text += '-' + print_part(date.day);
  return text + date.time;
}

sys_days first_of(int y, int m) { return sys_days{year{y} / month{static_cast<unsigned>(m)} / day{1}}; }
sys_days last_of(int y, int m) { return sys_days{year{y} / month{static_cast<unsigned>(m)} / std::chrono::last}; }

// First and last month of a season or grouping, counted from January of the written year (0 = December before).
std::pair<int, int> months_of_grouping(int code) {
  switch (code) {
    case 21:
    case 23:
      return {3, 11};
    case 22:
    case 24:
      return {0, 14};
    case 25:
    case 31:
      return {3, 5};
    case 26:
    case 32:
      return {6, 8};
    case 27:
    case 29:
      return {9, 11};
    case 28:
    case 30:
      return {0, 14};
    case 40:
      return {1, 6};
    case 41:
      return {7, 12};
    default:
      break;
  }
  if (code <= 36) return {3 * (code - 33) + 1, 3 * (code - 33) + 3};
  return {4 * (code - 37) + 1, 4 * (code - 37) + 4};
}

DayBounds bounds_of_date(const EdtfDate& date) {
  const auto years = four_digit_years(date);
  if (!years || date.year.digits == "XXXX") return {};
  const int least = static_cast<int>(years->least), most = static_cast<int>(years->most);
  if (date.month.digits.empty()) return {first_of(least, 1), last_of(most, 12)};
  if (is_grouping(date)) {
    const auto [from, to] = months_of_grouping(*whole_number(date.month.digits));
    const auto end = std::chrono::year_month{year{most}, month{1}} + months{to};
    const auto begin = std::chrono::year_month{year{least}, month{1}} + months{from - 1};
    return {sys_days{begin / day{1}}, sys_days{end / day{1}} - days{1}};
  }
  DayBounds bounds;
  const std::string_view digits = std::string_view(date.year.digits).substr(date.year.digits.size() - 4);
  const auto day_in = [&](int y, int m, bool latest) -> std::optional<sys_days> {
    const int count = days_in_month(is_leap(y), m);
    if (date.day.digits.empty()) return latest ? last_of(y, m) : first_of(y, m);
    for (int i = 1; i <= count; ++i) {
      const int d = latest ? count + 1 - i : i;
      if (fits(date.day.digits, d)) return first_of(y, m) + days{d - 1};
    }
    return std::nullopt;
  };
  const auto search = [&](bool latest) -> std::optional<sys_days> {
    for (int i = 0; i <= most - least; ++i) {
      const int y = latest ? most - i : least + i;
      if (date.significant_digits == 0 && !fits(digits, std::abs(y))) continue;
      for (int j = 1; j <= 12; ++j) {
        const int m = latest ? 13 - j : j;
        if (!fits(date.month.digits, m)) continue;
        if (const auto found = day_in(y, m, latest)) return found;
      }
    }
    return std::nullopt;
  };
  bounds.first = search(false);
  bounds.last = search(true);
  return bounds;
}

int level_of_date(const EdtfDate& date) {
  const auto marks_inside = date.year.left_mark || date.month.left_mark || date.day.left_mark ||
                            (date.year.right_mark && !date.month.digits.empty()) ||
                            (date.month.right_mark && !date.day.digits.empty());
  if (marks_inside || date.significant_digits > 0 || date.year.digits.find('E') != std::string::npos) return 2;
  if (is_grouping(date) && *whole_number(date.month.digits) > kLastLevel1Season) return 2;
  // Level 1 knows unknown digits only from the right: the last one or two of a year, or whole months and days.
  if (const std::string all = date.year.digits + date.month.digits + date.day.digits; has_unknown(all)) {
    const auto first_unknown = all.find('X');
    const bool to_the_end = all.find_first_not_of('X', first_unknown) == std::string::npos;
    const bool whole_parts = first_unknown >= 4 ? first_unknown % 2 == 0 : all.size() == 4 && first_unknown >= 2;
    return to_the_end && whole_parts ? 1 : 2;
  }
  if (date.year.right_mark || date.month.right_mark || date.day.right_mark || is_grouping(date)) return 1;
  return date.year.digits.starts_with('Y') || date.year.digits.starts_with('-') ? 1 : 0;
}

}  // namespace

std::optional<Edtf> parse_edtf(std::string_view text) { return Parser(text).whole(); }

std::string print_edtf(const Edtf& value) {
  const auto end = [](const std::optional<EdtfDate>& date, Edtf::End how) -> std::string {
    if (date) return print_date(*date);
    return how == Edtf::End::open ? ".." : "";
  };
  if (value.kind == Edtf::Kind::date) return print_date(*value.members.front().first);
  if (value.kind == Edtf::Kind::interval) {
    const auto& span = value.members.front();
    return end(span.first, span.first_end) + '/' + end(span.last, span.last_end);
  }
  std::string text;
  for (const auto& member : value.members) {
    text += text.empty() ? "" : ",";
    const bool span = member.last || member.first_end == Edtf::End::open || member.last_end == Edtf::End::open;
    if (member.first) text += print_date(*member.first);
    if (span) text += "..";
    if (member.last) text += print_date(*member.last);
  }
  return value.kind == Edtf::Kind::one_of ? '[' + text + ']' : '{' + text + '}';
}

int level_of(const Edtf& value) {
  if (value.kind == Edtf::Kind::one_of || value.kind == Edtf::Kind::all_of) return 2;
  int level = 0;
  for (const auto& member : value.members) {
    for (const auto& date : {member.first, member.last}) {
      if (!date) continue;
      // In an interval an unknown digit needs level 2 ("198X/1999").
      const bool unknown = has_unknown(date->year.digits + date->month.digits + date->day.digits);
      level = std::max(level, value.kind == Edtf::Kind::interval && unknown ? 2 : level_of_date(*date));
    }
    if (member.first_end != Edtf::End::stated || member.last_end != Edtf::End::stated) level = std::max(level, 1);
  }
  return level;
}

DayBounds day_bounds(const Edtf& value) {
  DayBounds whole;
  bool first_open = false, last_open = false;
  for (const auto& member : value.members) {
    DayBounds one;
    if (member.first) one = bounds_of_date(*member.first);
    const bool single = !member.last && member.first_end == Edtf::End::stated && member.last_end == Edtf::End::stated;
    if (!single) one.last = member.last ? bounds_of_date(*member.last).last : std::nullopt;
    first_open |= !one.first;
    last_open |= !one.last;
    if (one.first && (!whole.first || *one.first < *whole.first)) whole.first = one.first;
    if (one.last && (!whole.last || *one.last > *whole.last)) whole.last = one.last;
  }
  if (first_open) whole.first.reset();
  if (last_open) whole.last.reset();
  return whole;
}

std::string iso_day(sys_days when) {
  const std::chrono::year_month_day date{when};
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                     static_cast<unsigned>(date.day()));
}

}  // namespace papillote::interpretation
