#include "stages/interpretation/dates.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "stages/interpretation/date_atoms.h"
#include "stages/interpretation/date_finder.h"
#include "stages/interpretation/edtf.h"

namespace papillote::interpretation {
namespace {

// The EDTF of one annotation.
class Writer {
 public:
  Writer(std::string_view text, const DateContext& context) : text_(text), context_(context), atoms_(cut_atoms(text)) {}

  DateReading read() const {
    DateReading reading;
    if (as_written(reading)) return reading;
    if (const auto candidate = find_date(text_, atoms_, context_)) {
      write(*candidate, reading);
    } else {
      reading.reasons.push_back("No date was found.");
    }
    return reading;
  }

 private:
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
  std::vector<std::string> years_of(const DateYear& year, Written& written) const {
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

  std::string day_text(const std::string& year, int month, int day, const DatePart& part) const {
    std::string text = year;
    if (month > 0) text += fmt::format("-{}{:02}", part.month_uncertain ? "?" : "", month > 12 ? season_code(month) : month);
    if (day > 0 && month > 0)
      text += fmt::format("-{}{:02}", part.day_uncertain ? "?" : "", day);
    else if (part.day_blank)
      text += "-XX";
    return text;
  }

  // EDTF texts of one date; empty with a reason in `impossible` when the calendar lacks it.
  Written write_part(const DatePart& part, std::string& impossible) const {
    Written written;
    struct DayMonth {
      int day, month;
    };
    std::vector<DayMonth> days;
    if (is_numeric(part)) {
      const auto order = order_of(part, context_);
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
  Marks marks_around(const DateCandidate& candidate) const {
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
      const Gap gap = gap_between(text_, word.end, std::max(word.end, atoms_[at].begin));
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

  void write(const DateCandidate& candidate, DateReading& reading) const {
    const Marks marks = marks_around(candidate);
    reading.begin = marks.begin;
    reading.end = std::min(marks.end, text_.size());
    reading.verbatim = std::string(text_.substr(reading.begin, reading.end - reading.begin));
    if (candidate.other_event) {
      reading.reasons.push_back("The date follows a word such as det., so it is not the date of collecting.");
      return;
    }
    std::string impossible = candidate.impossible;
    const DatePart& a = candidate.from;
    const DatePart& b = candidate.to;
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
    if (candidate.others > 0) {
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
      edtf = write_single(candidate, from, marks, reading, confidence);
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
  double whole_before(const DateCandidate& candidate) const {
    if (candidate.first == 0) return 1;
    const Atom& before = atoms_[candidate.first - 1];
    if (before.measured || before.number == 0) return 1;
    const std::size_t begin = atoms_[candidate.first].begin;
    const std::string_view between = text_.substr(before.end, std::min(begin, before.end + kLongestGap) - before.end);
    if (between.find('\n') != std::string_view::npos) return 1;  // "M. galathea L." on the line above
    constexpr std::size_t kFewLetters = 2;
    const bool beside = between.size() <= 2 && between.find(' ') == std::string_view::npos;
    constexpr std::size_t kMonthLetters = 6;
    if (candidate.from.form == "Y" && candidate.relation == Relation::single && before.folded.size() <= kMonthLetters &&
        before.sense == Sense::none) {
      if (beside) return 0.3;  // "12.Vlil.1986"
      const bool day_before = candidate.first > 1 && atoms_[candidate.first - 2].may_be_day();
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
  double whole_after(const DateCandidate& candidate) const {
    const DatePart& last =
        candidate.relation == Relation::single || candidate.relation == Relation::list ? candidate.from : candidate.to;
    if (candidate.last + 1 >= atoms_.size() || last.year.value >= 0 || !last.year.pattern.empty()) return 1;
    const Atom& after = atoms_[candidate.last + 1];
    if (after.begin < atoms_[candidate.last].end || after.measured) return 1;
    const std::size_t distance = after.begin - atoms_[candidate.last].end;
    if (text_.substr(atoms_[candidate.last].end, std::min(distance, kLongestGap)).find('\n') != std::string_view::npos) return 1;
    constexpr int kFewestDigits = 3;
    const bool broken_year = distance <= 2 && after.is_number() && (after.digits >= kFewestDigits || !last.year.known());
    const bool glued = distance == 0 && last.year.known() && after.sense != Sense::filler;
    return broken_year || glued ? 0.3 : 1;
  }

  bool settles_year_first(const DatePart& part) const {
    if (!context_.period) return false;
    Written first, last;
    const auto year_first = years_of({.two_digits = part.first_number}, first);
    const auto year_last = years_of(part.year, last);
    return first.no_century_fits && !last.no_century_fits;
  }

  double base_confidence(const DateCandidate& candidate) const {
    const DatePart& a = candidate.from;
    const DatePart& b = candidate.to;
    const bool four = a.year.value >= 0 || b.year.value >= 0;
    const bool bare = candidate.bare;
    if (a.form == "Y" && candidate.relation == Relation::single) return bare ? 0.95 : 0.6;
    if (a.form == "Y" && b.form == "Y" && !bare) return 0.75;
    const bool initial = a.form == "MY" && a.roman && !bare && atoms_[a.first].folded.size() == 1;
    if (initial && four) return candidate.tight ? 0.9 : 0.75;  // "Karl V 1909"
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
  void write_month_or_year(const DatePart& part, const Marks&, double confidence, DateReading& reading) const {
    DatePart as_day = part, as_year = part;
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

  std::string write_single(const DateCandidate& candidate, const Written& written, const Marks& marks, DateReading& reading,
                           double& confidence) const {
    const DatePart& part = candidate.from;
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
      for (const auto& text : texts) {
        const bool day_first = text.substr(text.size() - 2) == fmt::format("{:02}", part.first_number);
        reading.alternatives.emplace_back(
            text, (candidate.point ? (day_first ? 0.85 : 0.15) : 0.5) * 2 / static_cast<double>(texts.size()));
      }
      std::ranges::stable_sort(reading.alternatives, std::greater{}, &std::pair<std::string, double>::second);
    } else {
      for (const auto& text : texts) reading.alternatives.emplace_back(text, 1.0 / static_cast<double>(texts.size()));
    }
    return fmt::format("[{}]", fmt::join(texts, ","));
  }

  std::string write_list(const DateCandidate& candidate, const Written& last, DateReading& reading) const {
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

  std::string write_pair(const DateCandidate& candidate, const Written& from, const Written& to, const Marks& marks,
                         DateReading& reading, double& confidence) const {
    if (from.open_order || to.open_order) {
      reading.reasons.push_back("Day and month may stand in either order, and EDTF has no set of intervals.");
      for (std::size_t i = 0; i < std::min(from.texts.size(), to.texts.size()); ++i) {
        reading.alternatives.emplace_back(from.texts[i] + '/' + to.texts[i], 0.5);
      }
      return {};
    }
    // Two centuries for both ends: the open year says the same without a set of intervals.
    const auto one = [](const Written& written, const DatePart& part, const Writer& writer) {
      return written.texts.size() == 1
                 ? written.texts.front()
                 : writer.day_text(fmt::format("XX{:02}", part.year.two_digits), part.month, part.day, part);
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
};

}  // namespace

DateReading read_date(std::string_view text, const DateContext& context) { return Writer(text, context).read(); }

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
