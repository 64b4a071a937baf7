#include "stages/interpretation/dates.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "stages/interpretation/date_atoms.h"
#include "stages/interpretation/edtf.h"
#include "stages/interpretation/months.h"

namespace papillote::interpretation {
namespace {

// --- Parts: one date, perhaps without its year, month or day ----------------------------------------------------------

constexpr int kLeastYear = 1582;      // default of the published range test for event dates (TDWG BDQ)
constexpr int kLeastLoneYear = 1700;  // a lone number must look like a year of collecting
constexpr int kMostYear = 2099;

struct Year {
  int value = -1;         // four digits
  int two_digits = -1;    // century open
  std::string pattern{};  // "192X"
  bool uncertain = false;

  bool known() const { return value >= 0 || two_digits >= 0 || !pattern.empty(); }
};

struct Part {
  std::string_view form;   // components in the order written, such as "DMY"; 'N' is a number that is day or month
  int day = 0, month = 0;  // 0 = not stated; month 21-24 = season
  int first_number = 0, second_number = 0;  // of form "NN" and "NNY"
  bool day_blank = false;                   // "XX DEC 1932"
  bool day_uncertain = false, month_uncertain = false;
  Year year{};
  std::size_t first = 0, last = 0;  // atoms
  bool noisy = false, two_or_eleven = false, roman = false, circa = false, year_first_possible = false;
  bool month_or_year = false;  // "VI.12": the number may be a day or a year
  std::string impossible{};    // reason
  double score = 0;

  bool has(char component) const { return form.find(component) != std::string_view::npos; }
};

struct Link {
  bool usable = false, to = false, both = false, either = false, circa = false;
  std::size_t next = 0;
  Gap gap;
  bool plain = false;  // no word in between
};

bool is_leap_year(int year) { return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0; }

// Days of the month; 29 for a February whose year is not known.
int last_day(int month, int year) {
  constexpr std::array kDays{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  if (month == 2 && (year < 0 || is_leap_year(year))) return 29;
  return kDays[static_cast<std::size_t>(month - 1)];
}

class Reader {
 public:
  Reader(std::string_view text, const DateContext& context) : text_(text), context_(context), atoms_(cut_atoms(text)) {}

  DateReading read() {
    DateReading reading;
    if (as_written(reading)) return reading;
    std::optional<Candidate> best;
    std::size_t ties = 0;
    std::vector<Candidate> found;
    std::size_t other_event_until = 0;
    for (std::size_t i = 0; i < atoms_.size(); ++i) {
      if (atoms_[i].sense == Sense::other_event && !is_month(atoms_[i])) other_event_until = i + kWordsAfterEvent;
      if (atoms_[i].sense == Sense::collecting) other_event_until = i;
      auto candidate = best_at(i);
      if (!candidate) continue;
      if (i < other_event_until && i > 0) {
        candidate->other_event = true;
        candidate->score -= kOtherEventPenalty;
        // One event has one date; what follows is another's.
        if (candidate->score + kOtherEventPenalty >= kSurelyDate) other_event_until = i;
      }
      found.push_back(*candidate);
      if (!best || candidate->score > best->score) {
        best = candidate;
        ties = 0;
      } else if (candidate->first > best->last && candidate->score == best->score) {
        ++ties;
      }
      if (candidate->score >= kSurelyDate || candidate->other_event) i = candidate->last;
    }
    if (!best) {
      reading.reasons.push_back("No date was found.");
      return reading;
    }
    write(*best, ties, reading);
    return reading;
  }

 private:
  static constexpr std::size_t kWordsAfterEvent = 9;
  static constexpr double kOtherEventPenalty = 60, kSurelyDate = 64;

  enum class Relation { single, range, both, either, list };

  struct Candidate {
    Part from, to;
    Relation relation = Relation::single;
    std::size_t first = 0, last = 0;
    double score = 0;
    bool other_event = false;
    std::string impossible{};
    // Of a list: each entry a date, or the first and last of a range. `from` then holds the last entry.
    std::vector<std::pair<Part, std::optional<Part>>> entries{};
    bool one_of = false;
  };

  static bool is_month(const Atom& atom) { return atom.month > 0 || (atom.roman > 0 && !atom.two_or_eleven); }

  // --- Links and components

  Gap gap_after(std::size_t i) const { return gap_between(text_, atoms_[i].end, std::max(atoms_[i].end, atoms_[i + 1].begin)); }

  Link link(std::size_t i) const {
    Link link;
    constexpr int kMostWordsBetween = 3;
    bool words = false;
    std::size_t at = i;
    for (int n = 0; n <= kMostWordsBetween && at + 1 < atoms_.size(); ++n) {
      // A decade's ending belongs to its number.
      if (atoms_[at + 1].end <= atoms_[i].end) {
        ++at;
        continue;
      }
      const Gap gap = gap_after(at);
      if (!gap.usable || (gap.colon && gap.space)) return {};
      link.gap.space |= gap.space;
      link.gap.dot |= gap.dot;
      link.gap.comma |= gap.comma;
      link.gap.dash |= gap.dash;
      link.gap.slash |= gap.slash;
      link.gap.query |= gap.query;
      link.gap.blank |= gap.blank;
      link.gap.apostrophe |= gap.apostrophe;
      link.gap.colon |= gap.colon;
      link.gap.ring |= gap.ring;
      link.both |= gap.ampersand;
      link.circa |= gap.tilde;
      ++at;
      const Atom& next = atoms_[at];
      const bool date_word = next.is_number() || is_month(next) || next.season > 0;
      const bool ambiguous_word = next.roman == 0 && next.month == 0 && next.season == 0;
      if (date_word && !(ambiguous_word && next.sense != Sense::none)) {
        link.usable = true;
        link.next = at;
        link.plain = !words;
        link.to |= link.gap.dash;
        return link;
      }
      words = true;
      const bool ordinal = next.begin == atoms_[at - 1].end && atoms_[at - 1].is_number() && next.folded.size() <= 3 &&
                           (next.folded == "e" || next.folded == "re" || next.folded == "ere" || next.folded == "de" ||
                            next.folded == "ten" || next.folded == "o" || next.folded == "a");
      if (ordinal) continue;
      switch (next.sense) {
        case Sense::filler:
          break;
        case Sense::to:
          link.to = true;
          break;
        case Sense::both:
          link.both = true;
          break;
        case Sense::either:
          link.either = true;
          break;
        case Sense::circa:
        case Sense::part_of:
        case Sense::until:
          link.circa |= next.sense == Sense::circa;
          break;
        default:
          return {};
      }
    }
    return {};
  }

  bool day_number(const Atom& a) const {
    return a.is_number() && !a.measured && a.digits <= 2 && !a.apostrophe && a.year_pattern.empty();
  }

  std::optional<Year> year_of(std::size_t i, const Link& before, bool month_written) const {
    const Atom& a = atoms_[i];
    Year year;
    if (!a.year_pattern.empty()) {
      year.pattern = a.year_pattern;
      return year;
    }
    if (!a.is_number() || a.measured) return std::nullopt;
    if (a.digits == 4) {
      if (a.number < kLeastYear || a.number > kMostYear) return std::nullopt;
      year.value = a.number;
      return year;
    }
    if (a.digits == 2 && (a.apostrophe || (month_written && (before.gap.tight() || before.gap.apostrophe || a.number > 31)) ||
                          (month_written && before.plain))) {
      year.two_digits = a.number;
      return year;
    }
    return std::nullopt;
  }

  static double year_score(const Year& year, const Atom& atom, const Link& before) {
    if (year.value >= 0) return 40;
    if (!year.pattern.empty()) return 32;
    if (atom.apostrophe) return 28;
    return before.gap.tight() ? 20 : 13;
  }

  static double month_score(const Atom& atom, bool tight) {
    if (atom.month > 0 && atom.folded.size() > 1) return is_whole_month_name(atom.folded) ? 30 : 27;
    return tight ? 24 : 15;
  }

  static int month_value(const Atom& atom) { return atom.month > 0 ? atom.month : atom.roman; }

  void take_month(Part& part, const Atom& atom) const {
    part.month = month_value(atom);
    part.roman = atom.month == 0;
    part.noisy |= atom.noisy;
    if (part.month > 12) part.impossible = fmt::format("There is no month {}.", part.month);
  }

  // --- Every way to read one date that begins at an atom

  void parts_at(std::size_t i, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    if (a.is_number() && !a.measured) {
      if (day_number(a)) from_day(i, parts);
      if (a.digits == 4 || !a.year_pattern.empty()) from_year(i, parts);
      if (a.digits == 8) from_eight_digits(i, parts);
      if (a.apostrophe || (a.digits == 2 && a.number > 31)) {
        Part part{.form = "Y", .year = {.two_digits = a.number}, .first = i, .last = i, .noisy = a.noisy};
        part.score = a.apostrophe ? 22 : 6;
        parts.push_back(std::move(part));
      }
    }
    if (is_month(a)) from_month(i, parts);
    if (a.season > 0) from_season(i, parts);
    from_century(i, parts);
  }

  void from_day(std::size_t i, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    const Link to_second = link(i);
    Part day{.form = "D", .day = a.number, .first = i, .last = i, .noisy = a.noisy};
    day.score = 10;
    if (to_second.usable && !to_second.both && !to_second.either) {
      const Atom& second = atoms_[to_second.next];
      const bool tight = to_second.gap.tight();
      const bool named = is_month(second) || second.two_or_eleven;
      if (named && !(to_second.gap.ring && a.number != 1)) {
        Part part = day;
        part.form = "DM";
        part.last = to_second.next;
        part.day_uncertain = to_second.gap.query;
        if (second.two_or_eleven) {
          part.month = 2;
          part.two_or_eleven = part.noisy = true;
        } else {
          take_month(part, second);
        }
        const bool impossible_day = a.number > 31 || a.number == 0;
        if (impossible_day && tight && to_second.plain && !to_second.gap.space) {
          part.impossible = fmt::format("There is no day {}.", a.number);
        }
        if (!impossible_day || !part.impossible.empty()) {
          part.score = 10 + month_score(second, tight);
          parts.push_back(part);
          const Link to_year = link(part.last);
          if (to_year.usable && !to_year.both && !to_year.either) {
            if (auto year = year_of(to_year.next, to_year, true)) {
              Part full = part;
              full.form = "DMY";
              full.last = to_year.next;
              full.month_uncertain = to_year.gap.query;
              full.year = *year;
              full.noisy |= atoms_[to_year.next].noisy;
              full.score =
                  10 + month_score(second, tight || to_year.gap.tight()) + year_score(*year, atoms_[to_year.next], to_year);
              if (year->value >= 0 && full.roman && !tight) full.score += 4;
              split_year(full, part, parts);
              parts.push_back(std::move(full));
            } else if (wrong_year(to_year)) {
              Part full = part;
              full.form = "DMY";
              full.last = to_year.next;
              full.impossible = fmt::format("{} is no year of collecting.", atoms_[to_year.next].number);
              full.score = 70;
              parts.push_back(std::move(full));
            }
          }
        }
      }
      if (day_number(second) && to_second.gap.tight() && !to_second.gap.comma && !to_second.gap.ring)
        numeric(i, to_second, parts);
      if (second.digits == 4 && !second.measured && second.number >= kLeastYear && second.number <= kMostYear) {
        // "7.1934" is a month and year; "16-17 1983" ends with the day and year of a range.
        if (a.number >= 1 && a.number <= 12 && to_second.gap.tight() && !to_second.gap.space && to_second.plain) {
          Part part{.form = "MY", .month = a.number, .year = {.value = second.number}, .first = i, .last = to_second.next};
          part.noisy = a.noisy || second.noisy;
          part.score = 40;
          parts.push_back(std::move(part));
        }
        Part part = day;
        part.form = "DY";
        part.last = to_second.next;
        part.year.value = second.number;
        part.noisy |= second.noisy;
        part.score = 38;
        parts.push_back(std::move(part));
      }
      if (second.digits == 2 && (second.apostrophe || to_second.gap.comma) && !second.measured) {
        Part part = day;
        part.form = "DY";
        part.last = to_second.next;
        part.year.two_digits = second.number;
        part.score = 20;
        parts.push_back(std::move(part));
      }
    }
    if (a.number >= 1 && a.number <= 31) parts.push_back(std::move(day));
  }

  // A printed "19" with the rest written beside it: "12 June 19 09".
  void split_year(const Part& full, const Part& part, std::vector<Part>& parts) const {
    const Atom& century = atoms_[full.last];
    if (century.digits != 2 || (century.number != 18 && century.number != 19) || century.apostrophe) return;
    const Link rest = link(full.last);
    if (!rest.usable || !rest.plain || rest.gap.dash || rest.gap.slash || rest.gap.comma) return;
    const Atom& tail = atoms_[rest.next];
    if (!tail.is_number() || tail.measured || tail.digits != 2 || (!rest.gap.blank && tail.begin - century.end > 3)) return;
    if (rest.next + 1 < atoms_.size() && is_month(atoms_[rest.next + 1])) return;
    Part split = part;
    split.form = "DMY";
    split.last = rest.next;
    split.year.value = century.number * 100 + tail.number;
    split.noisy |= tail.noisy;
    split.score = full.score + 10;
    parts.push_back(std::move(split));
  }

  bool wrong_year(const Link& to_year) const {
    const Atom& atom = atoms_[to_year.next];
    const bool no_year = atom.digits == 4 || atom.digits == 3 || (atom.digits == 1 && to_year.gap.dot && !to_year.gap.dash);
    return atom.is_number() && !atom.measured && no_year && to_year.gap.tight() && !to_year.gap.space && to_year.plain;
  }

  // Two or three numbers: "3/4/1920", "14/8".
  void numeric(std::size_t i, const Link& to_second, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    const Atom& b = atoms_[to_second.next];
    Part part{.form = "NN", .first_number = a.number, .second_number = b.number, .first = i, .last = to_second.next};
    part.noisy = a.noisy || b.noisy;
    part.score = 20;
    if (a.number == 0 || b.number == 0) {
      zeros(i, to_second, parts);
      return;
    }
    const Link to_year = link(part.last);
    const bool possible =
        std::min(a.number, b.number) >= 1 && std::min(a.number, b.number) <= 12 && std::max(a.number, b.number) <= 31;
    const bool spaced_year =
        to_year.usable && to_year.plain && atoms_[to_year.next].digits == 4 && (to_second.gap.slash || to_second.gap.dot);
    if (to_year.usable && !to_year.both && !to_year.either && (to_year.gap.tight() || spaced_year) && !to_year.gap.ring) {
      const Atom& c = atoms_[to_year.next];
      const bool same_marks = to_year.gap.dot == to_second.gap.dot && to_year.gap.dash == to_second.gap.dash &&
                              to_year.gap.slash == to_second.gap.slash;
      if (auto year = year_of(to_year.next, to_year, false)) {
        Part full = part;
        full.form = "NNY";
        full.last = to_year.next;
        full.year = *year;
        full.noisy |= c.noisy;
        full.score = 64;
        if (!possible) full.impossible = fmt::format("{} and {} are no day and month.", a.number, b.number);
        if (possible || same_marks) parts.push_back(std::move(full));
      } else if (c.is_number() && !c.measured && c.digits == 2 && (same_marks || (to_second.gap.slash && to_year.gap.dash)) &&
                 possible) {
        Part full = part;
        full.form = "NNY";
        full.last = to_year.next;
        full.year.two_digits = c.number;
        full.noisy |= c.noisy;
        full.score = 44;
        full.year_first_possible = to_second.gap.dash && a.digits == 2 && b.digits == 2 && b.number >= 1 && b.number <= 12 &&
                                   c.number >= 1 && c.number <= 31;
        parts.push_back(std::move(full));
      }
    }
    if (possible) parts.push_back(std::move(part));
  }

  // "00/08/1966", "0-0-1995": zeros stand for what is not known.
  void zeros(std::size_t i, const Link& to_second, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    const Atom& b = atoms_[to_second.next];
    const Link to_year = link(to_second.next);
    if (!to_year.usable || !to_year.gap.tight() || atoms_[to_year.next].digits != 4) return;
    const auto year = year_of(to_year.next, to_year, false);
    if (!year || (a.number == 0 && b.number > 12) || std::max(a.number, b.number) > 31) return;
    Part part{.form = "Y", .year = *year, .first = i, .last = to_year.next};
    if (a.number == 0 && b.number > 0) {
      part.form = "MY";
      part.month = b.number;
    }
    part.score = 60;
    parts.push_back(std::move(part));
  }

  void from_year(std::size_t i, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    const auto year = year_of(i, {}, false);
    if (!year) return;
    Part lone{.form = "Y", .year = *year, .first = i, .last = i, .noisy = a.noisy};
    lone.score = year->value >= 0 ? (a.number >= kLeastLoneYear ? 34 : 20) : 32;
    const Link to_second = link(i);
    if (to_second.usable && !to_second.both && !to_second.either) {
      const Atom& second = atoms_[to_second.next];
      Part part = lone;
      part.form = "YM";
      part.last = to_second.next;
      if (is_month(second) && month_value(second) <= 12 &&
          !(second.month == 0 && !to_second.gap.tight() && second.folded.size() < 2 && second.folded != "i" &&
            second.folded != "v" && second.folded != "x")) {
        take_month(part, second);
        part.score = 40 + month_score(second, to_second.gap.tight()) - 2;
        parts.push_back(part);
        const Link to_day = link(part.last);
        if (to_day.usable && !to_day.both && !to_day.either && day_number(atoms_[to_day.next]) &&
            (!to_day.gap.comma || to_second.gap.comma)) {
          Part full = part;
          full.form = "YMD";
          full.last = to_day.next;
          full.day = atoms_[to_day.next].number;
          full.noisy |= atoms_[to_day.next].noisy;
          full.score += 10;
          if (full.day >= 1 && full.day <= 31) parts.push_back(std::move(full));
        }
      } else if (second.season > 0) {
        part.month = second.season;
        part.score = 64;
        parts.push_back(part);
      } else if (const Link to_third = day_number(second) ? link(to_second.next) : Link{};
                 to_third.usable && to_third.gap.tight() && second.number >= 1 && second.number <= 31 &&
                 is_month(atoms_[to_third.next]) && month_value(atoms_[to_third.next]) <= 12 && !to_third.both &&
                 !to_third.either) {
        // "1909 25/XII"
        take_month(part, atoms_[to_third.next]);
        part.form = "YMD";
        part.day = second.number;
        part.last = to_third.next;
        part.score = 62;
        parts.push_back(std::move(part));
      } else if (day_number(second) && !to_second.gap.comma && (to_second.gap.tight() || !to_second.plain)) {
        part.month = second.number;
        part.noisy |= second.noisy;
        part.score = 42;
        if (second.number >= 1 && second.number <= 12) parts.push_back(part);
        const Link to_day = link(part.last);
        if (to_day.usable && day_number(atoms_[to_day.next]) && (to_day.gap.tight() || !to_day.plain) && !to_day.gap.comma) {
          Part full = part;
          full.form = "YMD";
          full.last = to_day.next;
          full.day = atoms_[to_day.next].number;
          full.noisy |= atoms_[to_day.next].noisy;
          // Only one order is possible in "2021-28-10".
          if (full.month > 12 && full.day <= 12) std::swap(full.month, full.day);
          full.score = 66;
          if (full.month < 1 || full.month > 12 || full.day < 1 || full.day > 31) {
            full.impossible = fmt::format("{} and {} are no month and day.", second.number, atoms_[to_day.next].number);
            if (full.month == 0 || full.day == 0 || full.month > 31 || full.day > 31) full.score = 0;
          }
          if (full.score > 0) parts.push_back(std::move(full));
        }
      }
    }
    parts.push_back(std::move(lone));
  }

  void from_eight_digits(std::size_t i, std::vector<Part>& parts) const {
    const int number = atoms_[i].number;
    const int year = number / 10000, month = number / 100 % 100, day = number % 100;
    if (year < kLeastLoneYear || year > kMostYear || month > 12 || (month == 0 && day > 0)) return;
    if (month > 0 && day > last_day(month, year)) return;
    Part part{.form = month == 0 ? "Y"
                      : day == 0 ? "YM"
                                 : "YMD",
              .day = day,
              .month = month,
              .year = {.value = year},
              .first = i,
              .last = i};
    part.score = 40;
    parts.push_back(std::move(part));
  }

  void from_month(std::size_t i, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    Part month{.form = "M", .first = i, .last = i};
    take_month(month, a);
    const Link to_second = link(i);
    const bool lone_letter = a.month == 0 && a.folded.size() == 1;
    if (to_second.usable && !to_second.both && !to_second.either && !(to_second.gap.ring)) {
      const Atom& second = atoms_[to_second.next];
      const bool tight = to_second.gap.tight();
      // "XX DEC 1932": a day that was left blank.
      if (a.roman == 20 && is_month(second) && second.month > 0) {
        std::vector<Part> rest;
        from_month(to_second.next, rest);
        for (auto& part : rest) {
          if (part.form != "MY") continue;
          part.form = "DMY";
          part.first = i;
          part.day_blank = true;
          part.score += 10;
          parts.push_back(std::move(part));
        }
        return;
      }
      if (auto year = year_of(to_second.next, to_second, true); year && !(second.digits == 2 && lone_letter && !tight)) {
        Part part = month;
        part.form = "MY";
        part.last = to_second.next;
        part.month_uncertain = to_second.gap.query;
        part.year = *year;
        part.noisy |= second.noisy;
        part.score = month_score(a, tight) + year_score(*year, second, to_second);
        if (lone_letter && !tight) part.score -= 6;
        const bool day_too = second.digits == 2 && !second.apostrophe && second.number >= 1 && second.number <= 31;
        part.month_or_year = day_too;
        if (day_too) part.score -= a.month > 0 ? 12 : 4;
        parts.push_back(std::move(part));
      }
      if (day_number(second) && second.number >= 1 && second.number <= 31 && month.month <= 12) {
        Part part = month;
        part.form = "MD";
        part.last = to_second.next;
        part.day = second.number;
        part.noisy |= second.noisy;
        part.score = month_score(a, tight) + 10;
        if (second.digits == 2 && a.month == 0) part.month_or_year = true;
        parts.push_back(part);
        const Link to_year = link(part.last);
        if (to_year.usable && !to_year.both && !to_year.either) {
          auto year = year_of(to_year.next, to_year, true);
          // "Feb. 16-17 1983": the dash ends a range of days.
          if (year && year->two_digits >= 0 && to_year.gap.dash && !to_second.gap.dash && !atoms_[to_year.next].apostrophe)
            year.reset();
          if (year) {
            Part full = part;
            full.form = "MDY";
            full.month_or_year = false;
            full.last = to_year.next;
            full.year = *year;
            full.day_uncertain = to_year.gap.query;
            full.noisy |= atoms_[to_year.next].noisy;
            full.score = 10 + month_score(a, tight) + year_score(*year, atoms_[to_year.next], to_year);
            parts.push_back(std::move(full));
          }
        }
      }
    }
    month.score = a.month > 0 ? (is_whole_month_name(a.folded) ? 14 : 8) : 3;
    if (a.roman != 20) parts.push_back(std::move(month));
  }

  void from_season(std::size_t i, std::vector<Part>& parts) const {
    const Link to_year = link(i);
    if (!to_year.usable) return;
    if (atoms_[to_year.next].season > 0) {
      parts.push_back({.form = "M", .month = atoms_[i].season, .first = i, .last = i, .score = 5});
      return;
    }
    if (to_year.both || to_year.either) return;
    const auto year = year_of(to_year.next, to_year, true);
    if (!year) return;
    Part part{.form = "MY", .month = atoms_[i].season, .year = *year, .first = i, .last = to_year.next};
    part.score = 28 + year_score(*year, atoms_[to_year.next], to_year);
    // "winter 1909-10": one winter.
    const Link more = link(part.last);
    if (more.usable && more.plain && (more.gap.dash || more.gap.slash) && year->value >= 0) {
      const Atom& end = atoms_[more.next];
      if (end.is_number() && !end.measured && (end.number == (year->value + 1) % 100 || end.number == year->value + 1)) {
        part.last = more.next;
        part.score += 4;
      }
    }
    parts.push_back(std::move(part));
  }

  // "19th century", "XIX siglo" and "19. Jahrhundert".
  void from_century(std::size_t i, std::vector<Part>& parts) const {
    const Atom& a = atoms_[i];
    if (!day_number(a) || a.number < kLeastLoneYear / 100 || a.number > 21) return;
    std::size_t next = i + 1;
    if (next < atoms_.size() && atoms_[next].begin == a.end && atoms_[next].sense == Sense::filler) ++next;
    if (next >= atoms_.size() || atoms_[next].sense != Sense::century || !gap_after(next - 1).usable) return;
    Part part{.form = "Y", .first = i, .last = next};
    part.year.pattern = fmt::format("{:02}XX", a.number - 1);
    part.score = 36;
    parts.push_back(std::move(part));
  }

  // --- Two dates

  static bool same_order(const Part& from, const Part& to) {
    const bool from_month_first = from.form.starts_with("M") && from.has('D');
    const bool to_month_first = to.form.starts_with("M") && to.has('D');
    return from_month_first == to_month_first;
  }

  // May `to` end what `from` begins?
  bool joins(const Part& from, const Part& to, const Link& between) const {
    const std::string_view a = from.form, b = to.form;
    if (a == "D") return b == "DM" || b == "DMY" || b == "NN" || b == "NNY";
    if (a == "DM") return b == "DM" || b == "DMY" || (b == "NNY" && from.roman);
    if (a == "M") return b == "M" || (b == "MY" && (to.month <= 12) == (from.month <= 12));
    if (a == "MD") return b == "D" || b == "DY" || b == "MD" || b == "MDY";
    if (a == "NN") return b == "NN" || b == "NNY" || (b == "DY" && between.gap.dash);
    if (a == "YMD") return b == "D" || b == "DM" || b == "YMD" || (b == "MD" && between.plain);
    if (a == "YM") return b == "M" || b == "YM";
    if (a == "MY") return b == "MY" || (b == "Y" && !between.gap.dash) || ((b == "DMY" || b == "MDY") && !between.gap.slash);
    if (a == "Y") {
      if (b == "Y") return to.year.value >= 0 || !to.year.pattern.empty() || from.year.two_digits >= 0;
      if (b == "MY") return !between.plain || between.gap.space;
      return false;
    }
    return (b == "DMY" || b == "MDY" || b == "NNY") && same_order(from, to);
  }

  std::optional<Candidate> best_at(std::size_t i) {
    starts_.clear();
    parts_at(i, starts_);
    std::optional<Candidate> best;
    const auto offer = [&](Candidate candidate) {
      if (!best || candidate.score > best->score || (candidate.score == best->score && candidate.last > best->last)) {
        best = std::move(candidate);
      }
    };
    for (const Part& part : starts_) {
      Candidate single{
          .from = part, .to = {}, .first = part.first, .last = part.last, .score = part.score, .impossible = part.impossible};
      if (part.form != "D" && part.form != "DY") offer(single);
      const Link between = link(part.last);
      if (!between.usable || !(between.to || between.both || between.either || between.gap.slash)) continue;
      ends_.clear();
      parts_at(between.next, ends_);
      short_year(part, between, ends_);
      for (const Part& end : ends_) {
        if (!joins(part, end, between)) continue;
        const bool slash_range = between.gap.slash && !between.to && !between.both && !between.either;
        if (slash_range &&
            !(part.form == "M" || part.form == "MY" || part.form == "Y" || part.form == "YM" || part.form == "D" ||
              (part.form == "DMY" && end.form == "DMY") || (part.form == "YMD" && end.form == "YMD")))
          continue;
        if (slash_range && part.form == "D" && !atoms_[end.first + 1].is_number() && !end.roman && end.form == "DM") continue;
        if (slash_range && part.form == "D" && end.has('N')) continue;
        Candidate pair{.from = part, .to = end};
        pair.relation = between.either                                       ? Relation::either
                        : between.both && !between.to && !between_word(part) ? Relation::both
                                                                             : Relation::range;
        pair.first = part.first;
        pair.last = end.last;
        pair.to.circa |= between.circa;
        pair.score = std::max(part.score, end.score) + 0.3 * std::min(part.score, end.score);
        if (part.form == "M" && end.form == "MY" && end.month_or_year) pair.score += 8;
        pair.impossible = !part.impossible.empty() ? part.impossible : end.impossible;
        complete(pair);
        offer(std::move(pair));
      }
    }
    if (auto list = list_at(i); list && (!best || list->score > best->score)) best = std::move(list);
    if (best && !acceptable(*best)) return std::nullopt;
    return best;
  }

  // "3, 5 & 7.V.1921", "12-14 & 16 Aug 1917", "June, July 1917", "1667, 1668 and 1670": the last entry completes the others.
  std::optional<Candidate> list_at(std::size_t i) const {
    const Atom& first = atoms_[i];
    enum class Kind { day, month, year } kind;
    if (day_number(first) && first.number >= 1 && first.number <= 31)
      kind = Kind::day;
    else if (is_month(first) && month_value(first) <= 12)
      kind = Kind::month;
    else if (first.digits == 4 && year_of(i, {}, false))
      kind = Kind::year;
    else
      return std::nullopt;
    const auto same_kind = [&](std::size_t at) {
      const Atom& atom = atoms_[at];
      if (kind == Kind::day) return day_number(atom) && atom.number >= 1 && atom.number <= 31;
      if (kind == Kind::month) return is_month(atom) && month_value(atom) <= 12;
      return atom.digits == 4 && year_of(at, {}, false).has_value();
    };
    Candidate list;
    list.relation = Relation::list;
    list.first = i;
    bool range_seen = false, comma_seen = false, word_seen = false;
    constexpr std::size_t kMostEntries = 40;
    std::vector<std::pair<std::size_t, std::size_t>> atoms;  // first and last of each entry
    for (std::size_t at = i; atoms.size() < kMostEntries;) {
      std::size_t end = at;
      Link next = link(at);
      if (kind == Kind::day && next.usable && next.gap.dash && next.plain && same_kind(next.next) &&
          atoms_[next.next].number > atoms_[at].number) {
        end = next.next;
        next = link(end);
        range_seen = true;
      }
      atoms.emplace_back(at, end);
      const bool goes_on = next.usable && (next.gap.comma || next.both || next.either) && !next.gap.slash && !next.gap.dash &&
                           same_kind(next.next);
      if (!goes_on) break;
      comma_seen |= next.gap.comma;
      word_seen |= next.both || next.either;
      list.one_of |= next.either;
      at = next.next;
    }
    const std::size_t least = kind == Kind::month || range_seen ? 2 : 3;
    if (atoms.size() < least || !(comma_seen || word_seen)) return std::nullopt;
    std::vector<Part> endings;
    parts_at(atoms.back().second, endings);
    const std::string_view wanted = kind == Kind::day ? "DMY" : kind == Kind::month ? "MY" : "Y";
    const auto ending =
        std::ranges::find_if(endings, [&](const Part& part) { return part.form == wanted && part.impossible.empty(); });
    if (ending == endings.end() || (kind == Kind::month && ending->month_or_year)) return std::nullopt;
    for (const auto& [begin, end] : atoms) {
      const auto entry = [&](std::size_t at) {
        Part part = *ending;
        if (kind == Kind::day) part.day = atoms_[at].number;
        if (kind == Kind::month) part.month = month_value(atoms_[at]);
        if (kind == Kind::year) part.year = *year_of(at, {}, false);
        return part;
      };
      list.entries.emplace_back(entry(begin), begin == end ? std::nullopt : std::optional(entry(end)));
    }
    list.from = *ending;
    list.last = ending->last;
    list.score = ending->score + 5 * static_cast<double>(atoms.size());
    for (std::size_t before = i; before-- > 0 && atoms_[before].sense != Sense::none;) {
      if (before > 0 && atoms_[before - 1].folded == "one") list.one_of = true;
    }
    return list;
  }

  bool between_word(const Part& part) const { return part.first > 0 && atoms_[part.first - 1].sense == Sense::between; }

  // "1932-33", "1909/10": the second year lacks its century.
  void short_year(const Part& from, const Link& between, std::vector<Part>& ends) const {
    const Atom& atom = atoms_[between.next];
    const bool year_alone = from.form == "Y" && from.year.value >= 0;
    if (!year_alone || !between.plain || between.gap.space || !atom.is_number() || atom.measured || atom.digits != 2) return;
    const int year = from.year.value / 100 * 100 + atom.number;
    if (year <= from.year.value) return;
    // A number that may be a month is read as one, unless it is just the next year of a slash.
    if (atom.number <= 12 && !(between.gap.slash && year == from.year.value + 1)) return;
    Part part{.form = "Y", .year = {.value = year}, .first = between.next, .last = between.next, .noisy = atom.noisy};
    part.score = 34;
    ends.push_back(std::move(part));
  }

  // Gives each end what it shares with the other, and sees whether the two run forward.
  void complete(Candidate& pair) const {
    Part& a = pair.from;
    Part& b = pair.to;
    if (b.form == "NN" || b.form == "NNY") {
      // The first date settles the order of the second.
      if (a.form == "D" || (a.form == "DM" && a.roman) || a.form == "DMY") settle(b, true);
    }
    if (a.form == "NN" && b.form == "DY") {
      // "10/25-28/1995" runs over days, so the month stands first.
      if (a.first_number > 12) pair.impossible = "The numbers make no range of days.";
      settle(a, false);
    }
    if (a.form == "NN" || a.form == "NNY" || b.form == "NN" || b.form == "NNY") {
      const auto order_a = order_of(a), order_b = order_of(b);
      if (order_a == Order::open && order_b != Order::open)
        settle(a, order_b == Order::day_first);
      else if (order_b == Order::open && order_a != Order::open)
        settle(b, order_a == Order::day_first);
      if (is_numeric(a) && order_of(a) != Order::open) settle(a, order_of(a) == Order::day_first);
      if (is_numeric(b) && order_of(b) != Order::open) settle(b, order_of(b) == Order::day_first);
    }
    if (a.month == 0 && a.day > 0) a.month = b.month;
    if (b.month == 0 && b.day > 0) b.month = a.month;
    if (!a.year.known() && b.year.known()) {
      a.year = b.year;
      const bool earlier_year = a.month > b.month && a.has('M') && b.has('M') && a.month <= 12;
      if (earlier_year && a.year.value > 0)
        --a.year.value;
      else if (earlier_year && a.year.two_digits > 0)
        --a.year.two_digits;
      if (earlier_year) a.year.uncertain = false;
    } else if (!b.year.known() && a.year.known()) {
      b.year = a.year;
    }
    // The century of one end holds for the other.
    if (a.year.two_digits >= 0 && b.year.value >= 0)
      a.year = {.value = century_before(a.year.two_digits, b.year.value)};
    else if (b.year.two_digits >= 0 && a.year.value >= 0) {
      b.year = {.value = a.year.value / 100 * 100 + b.year.two_digits};
      if (b.year.value < a.year.value) b.year.value += 100;
    }
    if (!pair.impossible.empty()) return;
    const int year_a = a.year.value >= 0 ? a.year.value : a.year.two_digits;
    const int year_b = b.year.value >= 0 ? b.year.value : b.year.two_digits;
    const bool century_turns = a.year.two_digits > b.year.two_digits && b.year.two_digits >= 0;
    const auto key = [](int year, const Part& part) { return (std::max(year, 0) * 100 + part.month) * 100 + part.day; };
    if (!is_numeric(a) && !is_numeric(b) && !century_turns && key(year_a, a) > key(year_b, b) && a.year.pattern.empty() &&
        b.year.pattern.empty()) {
      const bool finer = (a.day == 0) == (b.day == 0) && (a.month == 0) == (b.month == 0);
      if (finer && pair.relation == Relation::range) pair.impossible = "The second date lies before the first.";
    }
  }

  static int century_before(int two_digits, int last_year) {
    const int year = last_year / 100 * 100 + two_digits;
    return year > last_year ? year - 100 : year;
  }

  enum class Order { day_first, month_first, open, same };
  static bool is_numeric(const Part& part) { return part.form == "NN" || part.form == "NNY"; }

  Order order_of(const Part& part) const {
    if (!is_numeric(part))
      return part.has('D') ? (part.form.starts_with("M") ? Order::month_first : Order::day_first) : Order::open;
    if (part.first_number > 12) return Order::day_first;
    if (part.second_number > 12) return Order::month_first;
    if (context_.order == DateContext::Order::day_month) return Order::day_first;
    if (context_.order == DateContext::Order::month_day) return Order::month_first;
    if (part.first_number == part.second_number) return Order::day_first;
    return Order::open;
  }

  static void settle(Part& part, bool day_first) {
    part.day = day_first ? part.first_number : part.second_number;
    part.month = day_first ? part.second_number : part.first_number;
    if (part.month > 12) part.impossible = fmt::format("There is no month {}.", part.month);
    part.form = part.form == "NN" ? "DM" : "DMY";
  }

  // --- Is it a date at all?

  bool covers_everything(std::size_t first, std::size_t last) const {
    for (std::size_t i = 0; i < atoms_.size(); ++i) {
      if (i >= first && i <= last) continue;
      if (i > last + 8) return false;
      const Atom& atom = atoms_[i];
      const bool beside = atom.sense == Sense::filler || atom.sense == Sense::circa || atom.sense == Sense::uncertain ||
                          atom.sense == Sense::before || atom.sense == Sense::after || atom.sense == Sense::part_of ||
                          atom.sense == Sense::until || atom.sense == Sense::since || atom.sense == Sense::from ||
                          atom.sense == Sense::between || atom.sense == Sense::decade_start || atom.sense == Sense::earlier ||
                          atom.sense == Sense::later || atom.sense == Sense::either || atom.folded == "some" ||
                          (i > last && atom.end <= atoms_[last].end) || atom.folded == "than" || atom.folded == "do" ||
                          atom.folded == "dito";
      if (!beside) return false;
    }
    return true;
  }

  bool acceptable(const Candidate& candidate) const {
    const Part& a = candidate.from;
    if (candidate.relation == Relation::single) {
      const bool bare = covers_everything(candidate.first, candidate.last);
      if (a.form == "Y" && a.year.two_digits >= 0) return bare || atoms_[a.first].apostrophe;
      if (a.form == "Y" && atoms_[a.first].numbered) return false;
      if (a.form == "Y" && a.year.value >= 0 && a.year.value < kLeastLoneYear) return bare;
      if (a.form == "M") {
        const Atom& atom = atoms_[a.first];
        return atom.month > 0 &&
               (bare || (is_whole_month_name(atom.folded) && atom.folded.size() >= 7 && atom.folded != "augustus"));
      }
      if (a.form == "NN") {
        const Link between = link(a.first);
        const bool fraction = a.first_number < a.second_number && a.second_number <= 8;
        return bare || (between.gap.slash && !fraction && stands_alone(candidate));
      }
      if (a.form == "MD" && a.roman) return bare || link(a.first).gap.tight();
      if (a.form == "DM" && a.roman) return bare || (link(a.first).gap.tight() && stands_alone(candidate));
      if (a.form == "DM" || a.form == "MD")
        return bare || atoms_[a.last].folded.size() >= 3 || atoms_[a.first].folded.size() >= 3;
      if (a.noisy && !a.year.known()) return false;
      if (a.form == "MY" && a.roman && a.year.two_digits >= 0) return bare || link(a.first).gap.tight();
      return true;
    }
    if (candidate.relation == Relation::range || candidate.relation == Relation::both ||
        candidate.relation == Relation::either) {
      const Part& b = candidate.to;
      if (a.form == "Y" && a.year.two_digits >= 0 && b.year.two_digits >= 0)
        return covers_everything(candidate.first, candidate.last) && atoms_[a.first].apostrophe;
      constexpr int kLongestStay_years = 40;
      if (a.form == "Y" && b.form == "Y" && !covers_everything(candidate.first, candidate.last) &&
          (b.year.value - a.year.value > kLongestStay_years || atoms_[a.first].numbered)) {
        return false;
      }
      if (!a.year.known() && !b.year.known()) {
        if (a.form == "M" && b.form == "M") return covers_everything(candidate.first, candidate.last);
        if (is_numeric(a) || is_numeric(b)) return covers_everything(candidate.first, candidate.last);
      }
    }
    return true;
  }

  // No letter or digit is glued to either side.
  bool stands_alone(const Candidate& candidate) const {
    const auto begin = atoms_[candidate.first].begin, end = atoms_[candidate.last].end;
    const bool open_before = candidate.first == 0 || atoms_[candidate.first - 1].end + 1 < begin ||
                             (atoms_[candidate.first - 1].end < begin && text_[begin - 1] == ' ');
    const bool open_after = candidate.last + 1 >= atoms_.size() || atoms_[candidate.last + 1].begin > end + 1 ||
                            (atoms_[candidate.last + 1].begin > end && text_[end] == ' ');
    return open_before && open_after;
  }

  // --- Writing EDTF

  // The text is EDTF already, and not the short range of years that looks like it ("1921-30").
  bool as_written(DateReading& reading) const {
    constexpr std::string_view kSpace = " \t\r\n";
    const auto begin = text_.find_first_not_of(kSpace);
    constexpr std::size_t kLongestEdtf = 200;
    if (begin == std::string_view::npos) return false;
    const auto end = text_.find_last_not_of(kSpace) + 1;
    const std::string_view text = text_.substr(begin, end - begin);
    if (text.size() < 7 || text.size() > kLongestEdtf || text.front() == '-' || text.front() == 'Y') return false;
    const auto value = parse_edtf(text);
    // The time of day is no part of the date of collecting.
    if (!value || (value->members.front().first && !value->members.front().first->time.empty())) return false;
    for (const auto& member : value->members) {
      for (const auto& date : {member.first, member.last}) {
        if (!date) continue;
        if (date->year.digits < "1000") return false;
        const bool short_range = value->kind == Edtf::Kind::date && !date->year.right_mark && !date->month.right_mark &&
                                 date->day.digits.empty() && date->month.digits > "12" && date->month.digits.front() != 'X' &&
                                 date->month.digits.substr(0, 2) > date->year.digits.substr(2, 2);
        if (short_range) return false;
      }
    }
    reading.begin = begin;
    reading.end = end;
    reading.verbatim = std::string(text);
    reading.edtf = std::string(text);
    reading.confidence = 0.97;
    reading.reasons.push_back("The text is written as an ISO 8601 date.");
    if (value->kind == Edtf::Kind::date && text.size() == 7) {
      const int month = std::atoi(value->members.front().first->month.digits.c_str());
      const int year = std::atoi(value->members.front().first->year.digits.c_str());
      if (month == year % 100 + 1) {
        reading.confidence = 0.6;
        reading.alternatives.emplace_back(fmt::format("{}/{}", year, year + 1), 0.4);
        reading.reasons.push_back("The second number may also be the next year.");
      }
    }
    return true;
  }

  struct Written {
    std::vector<std::string> texts;  // one, or the members of a set
    bool resolved_century = false, open_century = false, open_order = false, no_century_fits = false;
  };

  // Four-digit texts that the year allows, best first.
  std::vector<std::string> years_of(const Year& year, Written& written) const {
    if (year.value >= 0) return {fmt::format("{:04}", year.value)};
    if (!year.pattern.empty()) return {year.pattern};
    if (year.two_digits < 0) return {"XXXX"};
    std::vector<std::string> texts;
    if (context_.period) {
      constexpr int kFirstCentury = 15, kLastCentury = 20;
      for (int century = kFirstCentury; century <= kLastCentury; ++century) {
        const int value = century * 100 + year.two_digits;
        if (value >= context_.period->first && value <= context_.period->second) texts.push_back(fmt::format("{:04}", value));
      }
      written.no_century_fits |= texts.empty();
    }
    if (texts.size() == 1) {
      texts.front() += '?';
      written.resolved_century = true;
    }
    if (texts.empty()) texts.push_back(fmt::format("XX{:02}", year.two_digits));
    written.open_century |= texts.size() > 1 || texts.front().starts_with("XX");
    return texts;
  }

  int season_code(int season) const {
    if (context_.hemisphere == DateContext::Hemisphere::south) return season + 8;
    if (context_.hemisphere == DateContext::Hemisphere::north) return season + 4;
    return season;
  }

  std::string day_text(const std::string& year, int month, int day, const Part& part) const {
    std::string text = year;
    if (month > 0) text += fmt::format("-{}{:02}", part.month_uncertain ? "?" : "", month > 12 ? season_code(month) : month);
    if (day > 0 && month > 0)
      text += fmt::format("-{}{:02}", part.day_uncertain ? "?" : "", day);
    else if (part.day_blank)
      text += "-XX";
    return text;
  }

  // EDTF texts of one date; empty with a reason in `impossible` when the calendar lacks it.
  Written write_part(const Part& part, std::string& impossible) const {
    Written written;
    struct DayMonth {
      int day, month;
    };
    std::vector<DayMonth> days;
    if (is_numeric(part)) {
      const auto order = order_of(part);
      if (order != Order::month_first) days.push_back({part.first_number, part.second_number});
      if (order == Order::month_first || order == Order::open) days.push_back({part.second_number, part.first_number});
      written.open_order = days.size() > 1;
    } else {
      days.push_back({part.day, part.month});
      if (part.two_or_eleven) days.push_back({part.day, 11});
    }
    const auto years = years_of(part.year, written);
    for (const auto& year : years) {
      const int value = year.find('X') == std::string::npos ? std::stoi(year) : -1;
      for (const auto& [day, month] : days) {
        if (day > 0 && month >= 1 && month <= 12 && day > last_day(month, value)) {
          impossible = fmt::format("{} has no day {}.", month_name(month, value), day);
          continue;
        }
        written.texts.push_back(day_text(year, month, day, part));
      }
    }
    std::ranges::sort(written.texts);
    return written;
  }

  static std::string month_name(int month, int year) {
    constexpr std::array kNames{"January", "February", "March",     "April",   "May",      "June",
                                "July",    "August",   "September", "October", "November", "December"};
    const std::string name = kNames[static_cast<std::size_t>(month - 1)];
    return year >= 0 ? fmt::format("{} {}", name, year) : name;
  }

  struct Marks {
    bool circa = false, uncertain = false, before = false, after = false, until = false, since = false, part_of = false;
    bool some_month = false, some_day = false;
    std::size_t begin = 0, end = 0;
  };

  // Words and signs beside the date: "ca.", "before", "(?)", "or earlier".
  Marks marks_around(const Candidate& candidate) const {
    Marks marks;
    marks.begin = atoms_[candidate.first].begin;
    marks.end = atoms_[candidate.last].end;
    // Backwards.
    std::size_t at = candidate.first;
    constexpr int kMostWords = 5;
    for (int n = 0; n < kMostWords; ++n) {
      const std::size_t from = at > 0 ? atoms_[at - 1].end : 0;
      std::string_view before = text_.substr(from, atoms_[at].begin - from);
      if (before.size() > kLongestGap) before = before.substr(before.size() - kLongestGap);
      if (before.find('~') != std::string_view::npos || before.find("±") != std::string_view::npos) {
        marks.circa = true;
        marks.begin = from + before.find_first_of("~\xC2");
      }
      if (before.find('<') != std::string_view::npos) marks.before = true;
      if (before.find('>') != std::string_view::npos) marks.after = true;
      if (before.ends_with('\'') || before.ends_with("’"))
        marks.begin = std::min(marks.begin, atoms_[at].begin - (before.ends_with('\'') ? 1 : 3));
      if (at == 0) break;
      const Atom& word = atoms_[at - 1];
      const Gap gap = gap_after(at - 1);
      if (!gap.usable || gap.slash) break;
      bool taken = true;
      switch (word.sense) {
        case Sense::circa:
          // "C. 1905" after a name would be an initial; "c." must not follow another initial.
          marks.circa = true;
          break;
        case Sense::uncertain:
          marks.uncertain = true;
          break;
        case Sense::before:
          marks.before = true;
          break;
        case Sense::after:
          marks.after = true;
          break;
        case Sense::until:
          marks.until = true;
          break;
        case Sense::since:
          marks.since = true;
          break;
        case Sense::part_of:
          marks.part_of = true;
          break;
        case Sense::between:
        case Sense::from:
        case Sense::decade_start:
        case Sense::filler:
        case Sense::both:
          break;
        case Sense::earlier:
        case Sense::later:
          break;
        default:
          // "prior to", and "bis 1914" where nothing stands before it.
          if (word.sense == Sense::to && at >= 2 && atoms_[at - 2].sense == Sense::before) break;
          if (word.sense == Sense::to && at == 1 && word.folded.size() >= 3) {
            marks.until = true;
            break;
          }
          if (word.folded == "than" && at >= 2 &&
              (atoms_[at - 2].sense == Sense::earlier || atoms_[at - 2].sense == Sense::later)) {
            (atoms_[at - 2].sense == Sense::earlier ? marks.before : marks.after) = true;
            break;
          }
          // "not after", "no later than": up to the date itself, and the other way round.
          if ((word.folded == "not" || word.folded == "no") && (marks.before || marks.after)) {
            (marks.after ? marks.until : marks.since) = true;
            marks.before = marks.after = false;
            break;
          }
          if (word.folded == "month" && n > 0) {
            marks.some_month = true;
            break;
          }
          if (word.folded == "day" && n > 0) {
            marks.some_day = true;
            break;
          }
          taken = false;
      }
      if (!taken) break;
      --at;
      if (word.sense != Sense::filler && word.sense != Sense::both) marks.begin = word.begin;
    }
    // Forwards.
    const std::string_view after = text_.substr(marks.end, kLongestGap);
    std::size_t width = 0;
    while (width < after.size() && (after[width] == ' ' || after[width] == '(' || after[width] == '.')) ++width;
    if (width < after.size() && after[width] == '?') {
      marks.uncertain = true;
      marks.end += width + 1;
      if (marks.end < text_.size() && text_[marks.end] == ')' && after.substr(0, width).find('(') != std::string_view::npos)
        ++marks.end;
    }
    if (const std::size_t next = candidate.last + 1;
        next < atoms_.size() &&
        gap_between(text_, atoms_[candidate.last].end, std::max(atoms_[next].begin, atoms_[candidate.last].end)).usable) {
      const Atom& word = atoms_[next];
      const bool last_word = next + 1 >= atoms_.size();
      if (last_word && word.sense == Sense::circa) marks.circa = true;
      if (last_word && word.sense == Sense::uncertain) marks.uncertain = true;
      if (word.sense == Sense::either) {
        for (std::size_t i = next + 1; i < std::min(next + 4, atoms_.size()); ++i) {
          if (atoms_[i].sense == Sense::earlier) marks.until = true;
          if (atoms_[i].sense == Sense::later) marks.since = true;
          if (marks.until || marks.since) marks.end = std::max(marks.end, atoms_[i].end);
        }
      }
    }
    return marks;
  }

  static std::string with_mark(const std::string& text, const Marks& marks) {
    if (!marks.circa && !marks.uncertain) return text;
    const char mark = marks.circa && marks.uncertain ? '%' : marks.circa ? '~' : '?';
    std::string marked = text;
    // One mark on the right covers what stands left of it; an inner '?' of a settled century is widened into it.
    std::erase(marked, '?');
    const bool had_query = marked != text;
    return marked + (had_query && mark == '~' ? '%' : mark);
  }

  // The unit before or after, for "before 1914" and "after June 1914".
  static std::string neighbour(const std::string& text, bool before) {
    const auto value = parse_edtf(text);
    if (!value) return text;
    const EdtfDate& date = *value->members.front().first;
    const std::string& year = date.year.digits;
    const auto bounds = day_bounds(*value);
    if (year.starts_with("XX") && year != "XXXX" && date.month.digits.empty()) {
      const int two = std::stoi(year.substr(2)) + (before ? -1 : 1);
      return two < 0 || two > 99 ? text : fmt::format("XX{:02}", two);
    }
    if (year.find('X') != std::string::npos && !date.month.digits.empty()) return text;
    if (date.month.digits > "12" || !bounds.first || !bounds.last) return text;
    const auto day = before ? *bounds.first - std::chrono::days{1} : *bounds.last + std::chrono::days{1};
    std::string other = iso_day(day);
    if (date.month.digits.empty())
      other.resize(4);
    else if (date.day.digits.empty())
      other.resize(7);
    const bool uncertain = text.find('?') != std::string::npos;
    if (uncertain) other.insert(4, "?");
    return other;
  }

  void write(const Candidate& candidate, std::size_t ties, DateReading& reading) const {
    const Marks marks = marks_around(candidate);
    reading.begin = marks.begin;
    reading.end = std::min(marks.end, text_.size());
    reading.verbatim = std::string(text_.substr(reading.begin, reading.end - reading.begin));
    if (candidate.other_event) {
      reading.reasons.push_back("The date follows a word such as det., so it is not the date of collecting.");
      return;
    }
    std::string impossible = candidate.impossible;
    const Part& a = candidate.from;
    const Part& b = candidate.to;
    Written from = write_part(a, impossible);
    Written to;
    const bool pair = candidate.relation != Relation::single && candidate.relation != Relation::list;
    if (pair) to = write_part(b, impossible);
    if (!candidate.impossible.empty() || from.texts.empty() || (pair && to.texts.empty())) {
      reading.reasons.push_back(impossible.empty() ? "The parts make no date." : impossible);
      reading.reasons.push_back("The date is kept as written and left open.");
      return;
    }
    double confidence = base_confidence(candidate);
    if (a.noisy || b.noisy) {
      confidence *= 0.9;
      reading.reasons.push_back("A letter was read as the digit or numeral it resembles.");
    }
    if (const double whole = whole_before(candidate) * whole_after(candidate); whole < 1) {
      confidence *= whole;
      reading.reasons.push_back("What stands just beside may belong to the date and was not understood.");
    }
    if (ties > 0) {
      confidence *= 0.9;
      reading.reasons.push_back("Another date follows in the text; the first was taken.");
    }
    if (a.month_or_year && candidate.relation == Relation::single) {
      write_month_or_year(a, marks, confidence, reading);
      return;
    }
    if (a.year_first_possible && candidate.relation == Relation::single && !settles_year_first(a)) {
      reading.reasons.push_back("Day, month and year of two digits each: the year may stand first or last.");
      for (const auto& text : from.texts) reading.alternatives.emplace_back(text, 0.6 / static_cast<double>(from.texts.size()));
      return;
    }
    std::string edtf;
    if (candidate.relation == Relation::list) {
      edtf = write_list(candidate, from, reading);
    } else if (candidate.relation == Relation::single) {
      edtf = write_single(a, from, marks, reading, confidence);
    } else {
      edtf = write_pair(candidate, from, to, marks, reading, confidence);
    }
    explain(from, to, marks, reading);
    if (edtf.empty() || !parse_edtf(edtf)) {
      if (!edtf.empty()) reading.reasons.push_back("The parts make no valid date; the text is kept as written.");
      return;
    }
    reading.edtf = edtf;
    reading.confidence = confidence;
  }

  // 1 where the date begins cleanly; less where a number or a few letters beside it look like its lost beginning.
  double whole_before(const Candidate& candidate) const {
    if (candidate.first == 0) return 1;
    const Atom& before = atoms_[candidate.first - 1];
    if (before.measured || before.number == 0) return 1;
    const std::size_t begin = atoms_[candidate.first].begin;
    const std::string_view between = text_.substr(before.end, std::min(begin, before.end + kLongestGap) - before.end);
    constexpr std::size_t kFewLetters = 2;
    const bool beside = between.size() <= 2 && between.find(' ') == std::string_view::npos;
    constexpr std::size_t kMonthLetters = 6;
    if (candidate.from.form == "Y" && candidate.relation == Relation::single && before.folded.size() <= kMonthLetters &&
        before.sense == Sense::none) {
      if (beside) return 0.3;  // "12.Vlil.1986"
      const bool day_before = candidate.first > 1 && day_number(atoms_[candidate.first - 2]);
      if (between.size() <= 2 && (before.is_number() || day_before)) return 0.3;  // "12 Jxy 1909"
    }
    const bool short_word = !before.is_number() && before.folded.size() <= kFewLetters && before.sense == Sense::none;
    const bool number = before.is_number() && before.digits <= 2;
    if (!short_word && !number) return 1;
    if (beside) return 0.45;  // "25.V-S.VI.2000"
    const bool one_space = between == " ";
    const bool day_stated = candidate.from.day > 0 || candidate.from.day_blank;
    if (number && one_space && day_stated) return 0.85;                                                 // "27 28.ii.2004"
    if ((number || (short_word && before.folded.size() == 1)) && one_space && !day_stated) return 0.5;  // "S Jul 1918"
    return 1;
  }

  // The same for the end: "28.xii 971", "10Aug19S4".
  double whole_after(const Candidate& candidate) const {
    const Part& last =
        candidate.relation == Relation::single || candidate.relation == Relation::list ? candidate.from : candidate.to;
    if (candidate.last + 1 >= atoms_.size() || last.year.value >= 0 || !last.year.pattern.empty()) return 1;
    const Atom& after = atoms_[candidate.last + 1];
    if (after.begin < atoms_[candidate.last].end || after.measured) return 1;
    const std::size_t distance = after.begin - atoms_[candidate.last].end;
    constexpr int kFewestDigits = 3;
    const bool broken_year = distance <= 2 && after.is_number() && (after.digits >= kFewestDigits || !last.year.known());
    const bool glued = distance == 0 && last.year.known() && after.sense != Sense::filler;
    return broken_year || glued ? 0.3 : 1;
  }

  bool settles_year_first(const Part& part) const {
    if (!context_.period) return false;
    Written first, last;
    const auto year_first = years_of({.two_digits = part.first_number}, first);
    const auto year_last = years_of(part.year, last);
    return first.no_century_fits && !last.no_century_fits;
  }

  double base_confidence(const Candidate& candidate) const {
    const Part& a = candidate.from;
    const Part& b = candidate.to;
    const bool four = a.year.value >= 0 || b.year.value >= 0;
    const bool bare = covers_everything(candidate.first, candidate.last);
    if (a.form == "Y" && candidate.relation == Relation::single) return bare ? 0.95 : 0.6;
    if (a.form == "Y" && b.form == "Y" && !bare) return 0.75;
    const bool initial = a.form == "MY" && a.roman && !bare && atoms_[a.first].folded.size() == 1;
    if (initial && four) return link(a.first).gap.tight() ? 0.9 : 0.75;  // "Karl V 1909"
    if (a.form == "M" && candidate.relation == Relation::single) return bare ? 0.8 : 0.5;
    if (four) return 0.98;
    if (a.year.two_digits >= 0) return 0.92;
    if (!a.year.pattern.empty()) return 0.93;
    return bare ? 0.85 : is_numeric(a) ? 0.6 : 0.75;
  }

  void explain(const Written& from, const Written& to, const Marks& marks, DateReading& reading) const {
    const auto either = [&](bool Written::*flag) { return from.*flag || to.*flag; };
    if (either(&Written::resolved_century)) {
      reading.reasons.push_back(fmt::format("The century follows from the period {} to {} of the tin and is marked uncertain.",
                                            context_.period->first, context_.period->second));
    }
    if (either(&Written::no_century_fits)) {
      reading.reasons.push_back(
          fmt::format("No year of the period {} to {} ends in these two digits, so the century stays open.",
                      context_.period->first, context_.period->second));
    } else if (either(&Written::open_century)) {
      reading.reasons.push_back("The year has two digits and the century is not known.");
    }
    if (either(&Written::open_order)) reading.reasons.push_back("Day and month may stand in either order; both are kept.");
    if (marks.part_of) reading.reasons.push_back("A word such as early or late narrows the date; EDTF cannot say it.");
  }

  // "VI.12": the twelfth of June, or June 1912.
  void write_month_or_year(const Part& part, const Marks&, double confidence, DateReading& reading) const {
    Part as_day = part, as_year = part;
    const int number = part.form == "MD" ? part.day : part.year.two_digits;
    as_day.form = "MD";
    as_day.day = number;
    as_day.year = {};
    as_year.form = "MY";
    as_year.day = 0;
    as_year.year = {.two_digits = number};
    std::string impossible{};
    const Written day = write_part(as_day, impossible), year = write_part(as_year, impossible);
    std::vector<std::string> members = year.texts;
    members.insert(members.end(), day.texts.begin(), day.texts.end());
    std::ranges::sort(members);
    reading.edtf = fmt::format("[{}]", fmt::join(members, ","));
    reading.confidence = confidence;
    for (const auto& text : year.texts) reading.alternatives.emplace_back(text, 0.6 / static_cast<double>(year.texts.size()));
    for (const auto& text : day.texts) reading.alternatives.emplace_back(text, 0.4);
    reading.reasons.push_back("The number after the month may be a day or a year of two digits; both are kept.");
    if (year.resolved_century) explain(year, {}, {}, reading);
  }

  std::string write_single(const Part& part, Written& written, const Marks& marks, DateReading& reading,
                           double& confidence) const {
    if (marks.before || marks.after || marks.until || marks.since) {
      const bool earlier = marks.before || marks.until;
      const bool exact = marks.until || marks.since || marks.circa || marks.uncertain;
      const std::string& limit = earlier ? written.texts.back() : written.texts.front();
      const std::string bound = with_mark(exact ? limit : neighbour(limit, earlier), marks);
      reading.reasons.push_back(earlier ? "One day at some time before the date that is written."
                                        : "One day at some time after the date that is written.");
      reading.alternatives.emplace_back(earlier ? "../" + with_mark(limit, marks) : with_mark(limit, marks) + "/..", 0.1);
      confidence *= 0.95;
      return earlier ? fmt::format("[..{}]", bound) : fmt::format("[{}..]", bound);
    }
    std::vector<std::string> texts;
    for (const auto& text : written.texts) {
      std::string one = text;
      if (marks.some_month && part.form == "Y") one += "-XX";
      if (marks.some_day && part.form == "Y") one += "-XX-XX";
      if (marks.some_day && part.form == "MY" && part.month <= 12) one += "-XX";
      texts.push_back(with_mark(one, marks));
    }
    if (texts.size() == 1) return texts.front();
    if (written.open_order) {
      // A point between day and month is mostly the European order; only a weight, never a decision.
      const bool point = link(part.first).gap.dot;
      for (const auto& text : texts) {
        const bool day_first = text.substr(text.size() - 2) == fmt::format("{:02}", part.first_number);
        reading.alternatives.emplace_back(text,
                                          (point ? (day_first ? 0.85 : 0.15) : 0.5) * 2 / static_cast<double>(texts.size()));
      }
      std::ranges::stable_sort(reading.alternatives, std::greater{}, &std::pair<std::string, double>::second);
    } else {
      for (const auto& text : texts) reading.alternatives.emplace_back(text, 1.0 / static_cast<double>(texts.size()));
    }
    return fmt::format("[{}]", fmt::join(texts, ","));
  }

  std::string write_list(const Candidate& candidate, const Written& last, DateReading& reading) const {
    if (last.texts.size() != 1) return {};
    std::vector<std::string> members;
    const auto& entries = candidate.entries;
    for (std::size_t i = 0; i < entries.size();) {
      // Three or more years on end are a span.
      std::size_t end = i + 1;
      const auto year = [&](std::size_t n) { return entries[n].first.form == "Y" ? entries[n].first.year.value : -1; };
      while (end < entries.size() && year(end) == year(i) + static_cast<int>(end - i) && year(i) >= 0) ++end;
      constexpr std::size_t kSpan = 3;
      if (end - i < kSpan) end = i + 1;
      std::string impossible;
      const Written first = write_part(entries[i].first, impossible);
      const Written until = write_part(entries[end - 1].second.value_or(entries[end - 1].first), impossible);
      if (first.texts.size() != 1 || until.texts.size() != 1) {
        reading.reasons.push_back(impossible);
        return {};
      }
      members.push_back(first.texts.front() == until.texts.front() ? first.texts.front()
                                                                   : first.texts.front() + ".." + until.texts.front());
      i = end;
    }
    const std::string joined = fmt::format("{}", fmt::join(members, ","));
    return candidate.one_of ? '[' + joined + ']' : '{' + joined + '}';
  }

  std::string write_pair(const Candidate& candidate, const Written& from, const Written& to, const Marks& marks,
                         DateReading& reading, double& confidence) const {
    if (from.open_order || to.open_order) {
      reading.reasons.push_back("Day and month may stand in either order, and EDTF has no set of intervals.");
      for (std::size_t i = 0; i < std::min(from.texts.size(), to.texts.size()); ++i) {
        reading.alternatives.emplace_back(from.texts[i] + '/' + to.texts[i], 0.5);
      }
      return {};
    }
    // Two centuries for both ends: the open year says the same without a set of intervals.
    const auto one = [](const Written& written, const Part& part, const Reader& reader) {
      return written.texts.size() == 1
                 ? written.texts.front()
                 : reader.day_text(fmt::format("XX{:02}", part.year.two_digits), part.month, part.day, part);
    };
    std::string first = one(from, candidate.from, *this), last = one(to, candidate.to, *this);
    Marks last_marks;
    last_marks.circa = candidate.to.circa || (marks.circa && candidate.relation != Relation::range);
    last_marks.uncertain = marks.uncertain;
    Marks first_marks;
    first_marks.circa = marks.circa;
    first = with_mark(first, first_marks);
    last = with_mark(last, last_marks);
    confidence *= 0.99;
    if (candidate.relation == Relation::both) return fmt::format("{{{},{}}}", first, last);
    if (candidate.relation == Relation::either) return fmt::format("[{},{}]", first, last);
    if (first == last) return first;
    return first + '/' + last;
  }

  std::string_view text_;
  const DateContext& context_;
  std::vector<Atom> atoms_;
  std::vector<Part> starts_, ends_;
};

}  // namespace

DateReading read_date(std::string_view text, const DateContext& context) { return Reader(text, context).read(); }

std::optional<std::pair<int, int>> read_period(std::string_view text) {
  constexpr std::size_t kYear = 4;
  if (text.size() != 2 * kYear + 1 || text[kYear] != '/') return std::nullopt;
  std::pair<int, int> years;
  const auto number = [](std::string_view digits, int& value) {
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return error == std::errc{} && end == digits.data() + digits.size();
  };
  if (!number(text.substr(0, kYear), years.first) || !number(text.substr(kYear + 1), years.second)) return std::nullopt;
  if (years.first > years.second) return std::nullopt;
  return years;
}

}  // namespace papillote::interpretation
