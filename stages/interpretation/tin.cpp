#include "stages/interpretation/tin.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <string_view>

#include "stages/interpretation/claims.h"
#include "stages/interpretation/edtf.h"
#include "stages/interpretation/headings.h"
#include "stages/interpretation/months.h"
#include "stages/interpretation/point_radius.h"
#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

constexpr std::size_t kFewest = 5;  // clear dates that make a period
constexpr int kLongest_years = 40;  // a longer span says nothing about a century
constexpr int kMargin_years = 10;   // the tin may go on a little before and after what is dated
constexpr int kProofs = 3;          // numeric dates that prove the order of day and month
constexpr double kHandedOn = 0.85;  // what remains of a confidence that comes from a neighbour

bool clear(const std::optional<Claim<std::string>>& claim) { return claim && claim->value && claim->confidence >= kClearDate; }

// The first two numbers of a date that is written with numbers alone: "13/8/06".
std::optional<std::pair<int, int>> numeric_pair(std::string_view verbatim) {
  std::vector<int> numbers;
  for (const Word& word : cut_words(verbatim)) {
    if (word.kind == Word::Kind::letters) return std::nullopt;
    if (word.kind == Word::Kind::digits) {
      if (word.folded.size() > 4) return std::nullopt;
      numbers.push_back(std::stoi(word.folded));
    }
  }
  if (numbers.size() != 3 || numbers[0] > 31 || numbers[1] > 31) return std::nullopt;
  return std::pair{numbers[0], numbers[1]};
}

// Where the day stands in a date with a roman month: "12.vii.1909", "vii-12-1909".
DateContext::Order roman_order(std::string_view verbatim) {
  std::vector<Word> words;
  for (Word& word : cut_words(verbatim))
    if (word.kind != Word::Kind::sign) words.push_back(std::move(word));
  if (words.size() != 3) return DateContext::Order::unknown;
  const auto roman = [&](std::size_t i) {
    return words[i].kind == Word::Kind::letters && roman_numeral(words[i].folded).value_or(13) <= 12;
  };
  const auto day = [&](std::size_t i) { return words[i].kind == Word::Kind::digits && words[i].folded.size() <= 2; };
  if (day(0) && roman(1)) return DateContext::Order::day_month;
  return roman(0) && day(1) ? DateContext::Order::month_day : DateContext::Order::unknown;
}

// The shortest span that holds four fifths of the years (sorted).
std::optional<std::pair<int, int>> period_of(const std::vector<int>& years, std::size_t fewest) {
  if (years.size() < fewest) return std::nullopt;
  const std::size_t most = (years.size() * 4 + 4) / 5;
  std::pair<int, int> span{years[0], years[most - 1]};
  for (std::size_t i = 1; i + most <= years.size(); ++i) {
    if (years[i + most - 1] - years[i] < span.second - span.first) span = {years[i], years[i + most - 1]};
  }
  if (span.second - span.first > kLongest_years) return std::nullopt;
  return span;
}

struct Statistics {
  std::vector<int> years;                          // of clear dates, sorted
  int day_first = 0, month_first = 0;              // by a number above 12
  int roman_day_first = 0, roman_month_first = 0;  // by a roman month
  std::vector<Place> places;                       // clear ones

  [[nodiscard]] std::optional<std::pair<int, int>> period() const { return period_of(years, kFewest); }

  // Proofs for the order of a date in figures, and against it. A roman month speaks for figures that are parted by points as it
  // is itself; slashes and dashes may be another custom.
  [[nodiscard]] std::pair<int, int> proofs(bool points) const {
    return {day_first + (points ? roman_day_first : 0), month_first + (points ? roman_month_first : 0)};
  }

  [[nodiscard]] DateContext::Order order(bool points) const {
    const auto [day, month] = proofs(points);
    if (day >= kProofs && month == 0) return DateContext::Order::day_month;
    if (month >= kProofs && day == 0) return DateContext::Order::month_day;
    return DateContext::Order::unknown;
  }
};

Statistics statistics_of(std::span<const TinMember> members) {
  Statistics tin;
  constexpr double kClearPlace = 0.7;  // nearly all that sure are right (README)
  for (const TinMember& member : members) {
    const auto& place = member.alone.get().place;
    if (place && place->value && place->confidence >= kClearPlace) tin.places.push_back(*place->value);
    const auto& date = member.alone.get().date;
    if (!clear(date)) continue;
    if (const auto year = full_years(*date->value)) tin.years.push_back(year->first);
    if (const auto pair = numeric_pair(date->verbatim)) {
      tin.day_first += pair->first > 12 && pair->second <= 12 ? 1 : 0;
      tin.month_first += pair->second > 12 && pair->first <= 12 ? 1 : 0;
    }
    const auto roman = roman_order(date->verbatim);
    tin.roman_day_first += roman == DateContext::Order::day_month ? 1 : 0;
    tin.roman_month_first += roman == DateContext::Order::month_day ? 1 : 0;
  }
  std::sort(tin.years.begin(), tin.years.end());
  return tin;
}

std::string span_of(std::pair<int, int> years) {
  return years.first == years.second ? fmt::format("of {}", years.first)
                                     : fmt::format("of {} to {}", years.first, years.second);
}

// Century, order and doubtful figures of a date that is not clear by itself.
void settle_date(Interpretation& facts, const Annotation& annotation, const Statistics& tin, const TinContext& known,
                 const ClearYears& years) {
  if (!facts.date) return;
  const bool settled = facts.date->value && full_years(*facts.date->value) && facts.date->value->front() != '[';
  if (settled && facts.date->confidence >= kClearDate) return;
  const bool points =
      facts.date->verbatim.find('.') != std::string::npos && facts.date->verbatim.find_first_of("/-") == std::string::npos;
  DateContext context{.period = known.period, .order = tin.order(points)};
  // A tin of many journeys says nothing of a century, the sheet may.
  const bool of_tin = tin.period().has_value();
  const auto inferred = known.period ? std::nullopt : of_tin ? tin.period() : period_of(years.of_sheet, kFewest - 1);
  if (inferred) context.period = std::pair{inferred->first - kMargin_years, inferred->second + kMargin_years};
  auto again = date_claim(annotation, context, years);
  if (!again || !again->value || again->value == facts.date->value) return;
  const bool by_years = date_claim(annotation, context, {})->value != again->value;
  again->confidence *= kHandedOn;
  if (inferred && again->value->find('?') != std::string::npos)
    again->reasons.push_back(fmt::format("Most of the {} clear dates of this {} are {}; the century follows them.",
                                         of_tin ? tin.years.size() : years.of_sheet.size(), of_tin ? "tin" : "sheet",
                                         span_of(*inferred)));
  if (context.order != DateContext::Order::unknown && numeric_pair(again->verbatim)) {
    const bool day_first = context.order == DateContext::Order::day_month;
    const auto [day, month] = tin.proofs(points);
    again->reasons.push_back(fmt::format("{} other dates of this tin are written with the {} first, none the other way.",
                                         day_first ? day : month, day_first ? "day" : "month"));
  }
  if (by_years)
    again->reasons.push_back(fmt::format("Of the reader's readings this one is nearest to the {} clear dates of the {}.",
                                         years.of_sheet.empty() ? years.of_tin.size() : years.of_sheet.size(),
                                         years.of_sheet.empty() ? "tin" : "sheet"));
  facts.date = std::move(again);
}

// A doubtful year that no clear date of the tin comes near.
void weigh_year(Interpretation& facts, const Statistics& tin) {
  const auto period = tin.period();
  if (!period || !facts.date || !facts.date->value || facts.date->confidence >= kClearDate) return;
  const auto inside = [&](const std::string& value) {
    const auto year = full_years(value);
    return year && std::any_of(tin.years.begin(), tin.years.end(), [&](int clear_year) {
             return clear_year >= year->first - kMargin_years && clear_year <= year->last + kMargin_years;
           });
  };
  Claim<std::string>& date = *facts.date;
  if (!full_years(*date.value) || inside(*date.value)) return;
  const auto other =
      std::find_if(date.alternatives.begin(), date.alternatives.end(), [&](const auto& a) { return inside(a.first); });
  const std::pair<std::string, double> before{*date.value, date.confidence};
  const std::string why = fmt::format("{} was read with little confidence, and most of the {} clear dates of this tin are {}",
                                      before.first, tin.years.size(), span_of(*period));
  if (other == date.alternatives.end()) {
    date.value.reset();
    date.confidence = 0;
    date.alternatives.insert(date.alternatives.begin(), before);
    date.reasons.push_back(why + ": left open.");
  } else {
    date.value = other->first;
    date.confidence = std::max(other->second, before.second);
    *other = before;
    date.reasons.push_back(why + ": the reader's other reading is taken.");
  }
}

// An open place that is sure enough once the clear places of the tin are heard: the same or a near place, or the country of
// most.
void settle_place(Interpretation& facts, const std::vector<Place>& clear_places) {
  constexpr std::size_t kFewestPlaces = 3;
  constexpr double kNear_m = 30'000, kNearOdds = 6, kCountryOdds = 2.5, kMost = 0.5, kSure = 0.7;
  if (!facts.place || facts.place->value || clear_places.size() < kFewestPlaces) return;
  const auto odds_of = [&](const Place& place) -> std::pair<double, std::string> {
    std::size_t same_country = 0;
    for (const Place& other : clear_places) {
      if (other.uncertainty_m <= kNear_m && distance_m(place.lat_deg, place.lon_deg, other.lat_deg, other.lon_deg) <= kNear_m)
        return {kNearOdds, fmt::format("{} is clearly read on another envelope of this tin", other.name)};
      same_country += !place.country.empty() && other.country == place.country ? 1 : 0;
    }
    if (static_cast<double>(same_country) <= kMost * static_cast<double>(clear_places.size())) return {1, ""};
    return {kCountryOdds,
            fmt::format("{} of the {} clear places of this tin lie in its country", same_country, clear_places.size())};
  };
  const auto best = std::ranges::max_element(facts.place->alternatives, {},
                                             [&](const auto& other) { return other.second * odds_of(other.first).first; });
  if (best == facts.place->alternatives.end()) return;
  const auto [odds, why] = odds_of(best->first);
  const double sure = best->second * odds / (best->second * odds + 1 - best->second);
  if (odds <= 1 || sure < kSure) return;
  facts.place->value = best->first;
  facts.place->confidence = sure * kHandedOn;
  facts.place->alternatives.erase(best);
  facts.place->reasons.push_back(why + ".");
}

// ---- ditto

// A sign or word that repeats what stands before it. "do" alone is a word of several languages and needs its point.
struct Ditto {
  std::string verbatim;
  Evidence evidence;
};

bool is_ditto_word(const std::string& folded, bool point) {
  constexpr std::array<std::string_view, 9> kWhole{"ditto", "dito", "idem", "ibidem", "ebenso", "desgl", "dsgl", "dto", "same"};
  constexpr std::array<std::string_view, 4> kWithPoint{"do", "id", "ibid", "dgl"};
  return std::find(kWhole.begin(), kWhole.end(), folded) != kWhole.end() ||
         (point && std::find(kWithPoint.begin(), kWithPoint.end(), folded) != kWithPoint.end());
}

// Dittos in the order of the text, and whether any other word of letters stands in it.
struct Dittos {
  std::vector<Ditto> all;
  bool other_words = false;
};

Dittos dittos_in(const Annotation& annotation) {
  Dittos found;
  for (std::size_t i = 0; i < annotation.lines.size(); ++i) {
    const Reading& reading = annotation.lines[i];
    if (reading.line.kind == LineKind::newsprint) continue;
    const auto words = cut_words(reading.text);
    for (std::size_t w = 0; w < words.size(); ++w) {
      const Word& word = words[w];
      const std::string_view as_written = std::string_view(reading.text).substr(word.begin, word.end - word.begin);
      const auto take = [&](std::size_t end) {
        found.all.push_back({reading.text.substr(word.begin, end - word.begin),
                             {static_cast<int>(i), static_cast<int>(word.begin), static_cast<int>(end)}});
      };
      if (word.kind == Word::Kind::letters) {
        const bool point = w + 1 < words.size() && words[w + 1].folded == ".";
        if (is_ditto_word(word.folded, point))
          take(point ? words[w + 1].end : word.end);
        else
          found.other_words = true;
      } else if (word.kind == Word::Kind::sign) {
        // A mark of seconds or inches stands behind a digit.
        const bool after_digit = w > 0 && words[w - 1].kind == Word::Kind::digits && words[w - 1].end == word.begin;
        if (!after_digit &&
            (as_written == "\"" || as_written == "″" || as_written == "〃" || as_written == "„" || as_written == "”"))
          take(word.end);
      }
    }
  }
  return found;
}

template <class Value>
bool hand_on(const std::optional<Claim<Value>>& from, const Ditto& ditto, const std::string& where,
             std::optional<Claim<Value>>& to) {
  if (!from || !from->value || (to && to->value && to->confidence >= kClear)) return false;
  Claim<Value> claim;
  claim.verbatim = ditto.verbatim;
  claim.value = from->value;
  claim.confidence = from->confidence * kHandedOn;
  claim.evidence = {ditto.evidence};
  claim.reasons = {
      fmt::format("\"{}\" stands for \"{}\" on the envelope before it ({}).", ditto.verbatim, from->verbatim, where)};
  to = std::move(claim);
  return true;
}

// "XXXX-08-14" with the year of the envelope before.
void hand_on_year(const Interpretation& before, const std::string& where, Interpretation& facts) {
  constexpr std::string_view kNoYear = "XXXX";
  if (!facts.date || !facts.date->value || !facts.date->value->starts_with(kNoYear) || !before.date || !before.date->value)
    return;
  const auto year = full_years(*before.date->value);
  if (!year || year->first != year->last) return;
  Claim<std::string>& date = *facts.date;
  date.value = fmt::format("{:04}{}", year->first, date.value->substr(kNoYear.size()));
  date.confidence = std::min(date.confidence, before.date->confidence) * kHandedOn;
  date.reasons.push_back(
      fmt::format("The year is that of the envelope before it ({}), which the annotation refers to.", where));
}

void hand_on_dittos(const TinMember& before, const Interpretation& facts_before, const Annotation& annotation,
                    Interpretation& facts) {
  const Dittos dittos = dittos_in(annotation);
  if (dittos.all.empty()) return;
  std::size_t next = 0;
  const auto ditto = [&]() -> const Ditto& { return dittos.all[std::min(next, dittos.all.size() - 1)]; };
  // The first ditto repeats the place, where the annotation names none itself; then the collector; a lone ditto repeats all.
  const bool lone = dittos.all.size() == 1 && !dittos.other_words;
  if ((!facts.place || !facts.place->value) && hand_on(facts_before.place, ditto(), before.where, facts.place)) ++next;
  if ((lone || next < dittos.all.size()) && !facts.collector &&
      hand_on(facts_before.collector, ditto(), before.where, facts.collector))
    ++next;
  if (facts.date && facts.date->value) {
    hand_on_year(facts_before, before.where, facts);
  } else if (!facts.date && (lone || next < dittos.all.size())) {
    hand_on(facts_before.date, ditto(), before.where, facts.date);
  }
}

// ---- likeness

std::vector<std::string> trigrams_of(const std::string& text) {
  std::string plain = "  ";
  for (const Word& word : cut_words(text)) {
    if (word.kind == Word::Kind::sign) continue;
    // Dates and numbers differ within a series; that there is one counts.
    plain += word.kind == Word::Kind::digits ? "0" : word.folded;
    plain += ' ';
  }
  std::vector<std::string> all;
  for (std::size_t i = 0; i + 3 <= plain.size(); ++i) all.push_back(plain.substr(i, 3));
  std::sort(all.begin(), all.end());
  all.erase(std::unique(all.begin(), all.end()), all.end());
  return all;
}

constexpr std::size_t kFewestOfSheet = 3;

// The clear dates of the sheet and of the tin.
ClearYears years_around(std::span<const TinMember> members, std::size_t member, const Statistics& tin) {
  ClearYears years;
  for (const TinMember& other : members) {
    const auto& date = other.alone.get().date;
    if (other.sheet != members[member].sheet || !clear(date)) continue;
    if (const auto year = full_years(*date->value)) years.of_sheet.push_back(year->first);
  }
  std::ranges::sort(years.of_sheet);
  if (years.of_sheet.size() < kFewestOfSheet) years.of_sheet.clear();
  if (tin.years.size() >= kFewest) years.of_tin = tin.years;
  return years;
}

// The slip that holds for each member but itself.
class Slips {
 public:
  explicit Slips(std::span<const TinMember> members) {
    for (std::size_t i = 0; i < members.size(); ++i)
      if (auto heading = heading_in(members[i].annotation, members[i].alone, members[i].where))
        slips_.emplace_back(i, std::move(*heading));
  }

  [[nodiscard]] const Heading* over(std::size_t member) const {
    const Heading* nearest = slips_.size() == 1 ? &slips_.front().second : nullptr;
    for (const auto& [place, heading] : slips_) {
      if (place == member) return nullptr;
      if (place < member) nearest = &heading;
    }
    return nearest;
  }

 private:
  std::vector<std::pair<std::size_t, Heading>> slips_;
};

}  // namespace

double ClearYears::weight(std::optional<int> year) const {
  constexpr double kStray = 0.03, kReach_years = 12, kSheet = 0.7;  // an envelope may be of any year; journeys last some years
  constexpr double kNotInFull = 0.5;
  const auto near = [&](const std::vector<int>& years) {
    double sum = 0;
    for (const int clear_year : years) sum += std::max(0.0, 1 - std::abs(*year - clear_year) / kReach_years);
    return years.empty() ? 0 : sum / static_cast<double>(years.size());
  };
  if (of_sheet.empty() && of_tin.empty()) return 1;
  if (!year) return kNotInFull;
  const double sheet = of_sheet.empty() ? 0 : of_tin.empty() ? 1 : kSheet;
  return kStray + (1 - kStray) * (sheet * near(of_sheet) + (1 - sheet) * near(of_tin));
}

std::optional<Years> full_years(const std::string& edtf) {
  const auto value = parse_edtf(edtf);
  if (!value) return std::nullopt;
  for (const auto& member : value->members) {
    for (const auto& date : {member.first, member.last}) {
      if (date && date->year.digits.find('X') != std::string::npos) return std::nullopt;
    }
  }
  const auto bounds = day_bounds(*value);
  if (!bounds.first || !bounds.last) return std::nullopt;
  const auto year = [](std::chrono::sys_days day) { return static_cast<int>(std::chrono::year_month_day(day).year()); };
  return Years{year(*bounds.first), year(*bounds.last)};
}

std::vector<Interpretation> read_tin(std::span<const TinMember> members, const TinContext& known,
                                     const std::optional<Heading>& heading) {
  const Statistics tin = statistics_of(members);
  const Slips slips(members);
  std::vector<Interpretation> all;
  all.reserve(members.size());
  for (std::size_t i = 0; i < members.size(); ++i) {
    Interpretation facts = members[i].alone.get();
    const std::array<const Heading*, 2> headings{slips.over(i), heading ? &*heading : nullptr};
    TinContext context = known;
    for (const Heading* over : headings)
      if (over && over->years && !context.period) context.period = std::pair{over->years->first, over->years->last};
    settle_date(facts, members[i].annotation.get(), tin, context, years_around(members, i, tin));
    weigh_year(facts, tin);
    settle_place(facts, tin.places);
    if (i > 0) hand_on_dittos(members[i - 1], all.back(), members[i].annotation.get(), facts);
    for (const Heading* over : headings)
      if (over) go_by_heading(*over, facts);
    all.push_back(std::move(facts));
  }
  return all;
}

std::vector<std::vector<std::size_t>> like_annotations(std::span<const std::string> texts, double least) {
  std::vector<std::vector<std::string>> trigrams(texts.size());
  std::map<std::string, std::vector<std::size_t>> holders;
  std::vector<std::size_t> group(texts.size());
  std::iota(group.begin(), group.end(), std::size_t{0});
  const auto root = [&](std::size_t i) {
    while (group[i] != i) i = group[i] = group[group[i]];
    return i;
  };
  for (std::size_t i = 0; i < texts.size(); ++i) {
    trigrams[i] = trigrams_of(texts[i]);
    std::map<std::size_t, std::size_t> shared;
    for (const auto& trigram : trigrams[i])
      for (const std::size_t other : holders[trigram]) ++shared[other];
    for (const auto& [other, count] : shared) {
      const auto together = static_cast<double>(trigrams[i].size() + trigrams[other].size() - count);
      // The smaller number leads, so that a group is named by its first member.
      if (static_cast<double>(count) >= least * together)
        group[std::max(root(i), root(other))] = std::min(root(i), root(other));
    }
    for (const auto& trigram : trigrams[i]) holders[trigram].push_back(i);
  }
  std::map<std::size_t, std::vector<std::size_t>> by_root;
  for (std::size_t i = 0; i < texts.size(); ++i) by_root[root(i)].push_back(i);
  std::vector<std::vector<std::size_t>> groups;
  for (auto& [first, members] : by_root)
    if (members.size() > 1) groups.push_back(std::move(members));
  return groups;
}

}  // namespace papillote::interpretation
