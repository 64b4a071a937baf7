#include "stages/interpretation/date_finder.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "stages/interpretation/months.h"

namespace papillote::interpretation {
namespace {

constexpr int kLeastYear = 1582;      // default of the published range test for event dates (TDWG BDQ)
constexpr int kLeastLoneYear = 1700;  // a lone number must look like a year of collecting
constexpr int kMostYear = 2099;

using Part = DatePart;
using Year = DateYear;
using Candidate = DateCandidate;

struct Link {
  bool usable = false, to = false, both = false, either = false, circa = false;
  std::size_t next = 0;
  Gap gap;
  bool plain = false;  // no word in between
};

class Finder {
 public:
  Finder(std::string_view text, const std::vector<Atom>& atoms, const DateContext& context)
      : text_(text), atoms_(atoms), context_(context) {}

  std::optional<Candidate> find() {
    std::optional<Candidate> best;
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
      const bool skip = candidate->score >= kSurelyDate || candidate->other_event;
      const std::size_t last = candidate->last;
      if (!best || candidate->score > best->score) {
        best = std::move(candidate);
      } else if (candidate->first > best->last && candidate->score == best->score) {
        ++best->others;
      }
      if (skip) i = last;
    }
    if (!best) return std::nullopt;
    const Link after_first = link(best->first);
    best->bare = covers_everything(best->first, best->last);
    best->tight = after_first.gap.tight();
    best->point = after_first.gap.dot;
    return best;
  }

 private:
  static constexpr std::size_t kWordsAfterEvent = 9;
  static constexpr double kOtherEventPenalty = 60, kSurelyDate = 64;

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
      if (a.may_be_day()) from_day(i, parts);
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
      if (second.may_be_day() && to_second.gap.tight() && !to_second.gap.comma && !to_second.gap.ring)
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
        if (to_day.usable && !to_day.both && !to_day.either && atoms_[to_day.next].may_be_day() &&
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
      } else if (const Link to_third = second.may_be_day() ? link(to_second.next) : Link{};
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
      } else if (second.may_be_day() && !to_second.gap.comma && (to_second.gap.tight() || !to_second.plain)) {
        part.month = second.number;
        part.noisy |= second.noisy;
        part.score = 42;
        if (second.number >= 1 && second.number <= 12) parts.push_back(part);
        const Link to_day = link(part.last);
        if (to_day.usable && atoms_[to_day.next].may_be_day() && (to_day.gap.tight() || !to_day.plain) && !to_day.gap.comma) {
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
      if (second.may_be_day() && second.number >= 1 && second.number <= 31 && month.month <= 12) {
        Part part = month;
        part.form = "MD";
        part.last = to_second.next;
        part.day = second.number;
        part.noisy |= second.noisy;
        part.score = month_score(a, tight) + 10;
        // "November 14" is a day to one writer and a year to another; "November 14th" is a day.
        const bool ordinal = to_second.next + 1 < atoms_.size() && atoms_[to_second.next + 1].begin == second.end;
        if (second.digits == 2 && !ordinal) part.month_or_year = true;
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
    if (!a.may_be_day() || a.number < kLeastLoneYear / 100 || a.number > 21) return;
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
    if (first.may_be_day() && first.number >= 1 && first.number <= 31)
      kind = Kind::day;
    else if (is_month(first) && month_value(first) <= 12)
      kind = Kind::month;
    else if (first.digits == 4 && year_of(i, {}, false))
      kind = Kind::year;
    else
      return std::nullopt;
    const auto same_kind = [&](std::size_t at) {
      const Atom& atom = atoms_[at];
      if (kind == Kind::day) return atom.may_be_day() && atom.number >= 1 && atom.number <= 31;
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
      const auto order_a = order_of(a, context_), order_b = order_of(b, context_);
      if (order_a == Order::open && order_b != Order::open)
        settle(a, order_b == Order::day_first);
      else if (order_b == Order::open && order_a != Order::open)
        settle(b, order_a == Order::day_first);
      if (is_numeric(a) && order_of(a, context_) != Order::open) settle(a, order_of(a, context_) == Order::day_first);
      if (is_numeric(b) && order_of(b, context_) != Order::open) settle(b, order_of(b, context_) == Order::day_first);
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

  std::string_view text_;
  const std::vector<Atom>& atoms_;
  const DateContext& context_;
  std::vector<Part> starts_, ends_;
};

}  // namespace

Order order_of(const DatePart& part, const DateContext& context) {
  if (!is_numeric(part))
    return part.has('D') ? (part.form.starts_with("M") ? Order::month_first : Order::day_first) : Order::open;
  if (part.first_number > 12) return Order::day_first;
  if (part.second_number > 12) return Order::month_first;
  if (context.order == DateContext::Order::day_month) return Order::day_first;
  if (context.order == DateContext::Order::month_day) return Order::month_first;
  if (part.first_number == part.second_number) return Order::day_first;
  return Order::open;
}

static bool is_leap_year(int year) { return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0; }

int last_day(int month, int year) {
  constexpr std::array kDays{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  if (month == 2 && (year < 0 || is_leap_year(year))) return 29;
  return kDays[static_cast<std::size_t>(month - 1)];
}

std::optional<DateCandidate> find_date(std::string_view text, const std::vector<Atom>& atoms, const DateContext& context) {
  return Finder(text, atoms, context).find();
}

}  // namespace papillote::interpretation
