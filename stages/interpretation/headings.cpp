#include "stages/interpretation/headings.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>
#include <vector>

#include "stages/interpretation/claims.h"
#include "stages/interpretation/edtf.h"
#include "stages/interpretation/point_radius.h"
#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

constexpr double kFromHeading = 0.7;  // what remains of a heading's confidence: an envelope may have strayed into the tin
constexpr int kLongest_years = 40;    // a longer span is no time of collecting
constexpr int kMostDays = 12;         // a day without its year is spread over so many years at most

// "Sarawak 1909-11" is read as November 1909 on an envelope. Over a whole tin it is as likely the years 1909 to 1911, which
// hold that November.
std::optional<Years> short_span(const std::string& verbatim) {
  const auto words = cut_words(verbatim);
  if (words.size() < 3) return std::nullopt;
  const auto& last = words.back();
  const auto& sign = words[words.size() - 2];
  const auto& first = words[words.size() - 3];
  const bool dash = sign.kind == Word::Kind::sign && (sign.folded == "-" || sign.folded == "–" || sign.folded == "/");
  if (!dash || first.kind != Word::Kind::digits || first.folded.size() != 4 || last.kind != Word::Kind::digits ||
      last.folded.size() != 2)
    return std::nullopt;
  const int from = std::stoi(first.folded), to = from / 100 * 100 + std::stoi(last.folded);
  return to > from ? std::optional(Years{from, to}) : std::nullopt;
}

// Of a date without months.
std::optional<Years> years_of(const Claim<std::string>& date) {
  if (!date.value) return std::nullopt;
  if (const auto span = short_span(date.verbatim)) return span;
  const auto edtf = parse_edtf(*date.value);
  if (!edtf) return std::nullopt;
  for (const auto& member : edtf->members)
    for (const auto& end : {member.first, member.last})
      if (end && !end->month.digits.empty()) return std::nullopt;
  return full_years(*date.value);
}

// The first word: further on it may be another language's ("Monti alle Nevi").
bool begins_with_all(const Annotation& annotation) {
  constexpr std::array<std::string_view, 16> kAll{"all",   "alle",  "alles", "tous",  "toutes", "tout",  "todos",  "todas",
                                                  "tutti", "tutte", "omnes", "omnia", "allen",  "samtl", "inhalt", "contents"};
  const auto words = cut_words(annotation.text);
  const auto first = std::ranges::find(words, Word::Kind::letters, &Word::kind);
  return first != words.end() && std::ranges::find(kAll, first->folded) != kAll.end();
}

std::string in_words(const Years& years) {
  return years.first == years.last ? std::to_string(years.first) : fmt::format("{} to {}", years.first, years.last);
}

// One day at some time in them.
std::string edtf_of(const Years& years) {
  return years.first == years.last ? fmt::format("{:04}", years.first) : fmt::format("[{:04}..{:04}]", years.first, years.last);
}

bool meet(const std::string& date, const Years& years) {
  const auto stated = full_years(date);
  return stated && stated->first <= years.last && stated->last >= years.first;
}

// The envelope was read well enough to say that it strays from the heading, though not what it says.
template <class Value, class Fits>
bool speaks_against(const std::vector<std::pair<Value, double>>& readings, Fits fits) {
  constexpr double kWellEnough = 0.4;
  return !readings.empty() && readings.front().second >= kWellEnough &&
         std::ranges::none_of(readings, [&](const auto& reading) { return fits(reading.first); });
}

void set_date(const Heading& heading, std::string value, double confidence, const std::string& why,
              std::optional<Claim<std::string>>& date) {
  if (!date)
    date = Claim<std::string>{
        .verbatim = heading.words, .value = {}, .confidence = 0, .alternatives = {}, .reasons = {}, .evidence = {}};
  if (date->value) date->alternatives.insert(date->alternatives.begin(), {*date->value, date->confidence});
  date->value = std::move(value);
  date->confidence = confidence;
  date->reasons.push_back(why);
}

void settle_date(const Heading& heading, std::optional<Claim<std::string>>& date) {
  const Years& years = *heading.years;
  const double sure = heading.confidence * kFromHeading;
  constexpr std::string_view kNoYear = "XXXX-";
  if (date && date->value && date->value->starts_with(kNoYear)) {
    if (years.last - years.first >= kMostDays) return;
    std::vector<std::string> days;
    for (int year = years.first; year <= years.last; ++year)
      if (auto day = fmt::format("{:04}-{}", year, date->value->substr(kNoYear.size())); parse_edtf(day))
        days.push_back(std::move(day));
    if (days.empty()) return;
    const double day_sure = date->confidence * kFromHeading;
    set_date(heading, days.size() == 1 ? days.front() : fmt::format("[{}]", fmt::join(days, ",")), std::min(day_sure, sure),
             fmt::format("The year follows {}, \"{}\".", heading.where, heading.words), date);
    return;
  }
  if (!date || !date->value) {
    if (date && speaks_against(date->alternatives, [&](const std::string& other) { return meet(other, years); })) return;
    set_date(
        heading, edtf_of(years), sure,
        fmt::format("{} is {}, \"{}\": {}.", date ? "What can be said of the date" : "The envelope says no date; what holds",
                    heading.where, heading.words, in_words(years)),
        date);
    return;
  }
  if (date->confidence >= kClearDate || !full_years(*date->value) || meet(*date->value, years)) return;
  const auto inside = std::ranges::find_if(date->alternatives, [&](const auto& other) { return meet(other.first, years); });
  if (inside == date->alternatives.end()) return;
  const auto taken = *inside;
  date->alternatives.erase(inside);
  const std::string before = *date->value;
  set_date(heading, taken.first, std::max(taken.second, date->confidence),
           fmt::format("{} was read with little confidence and lies outside {}, \"{}\": the other reading is taken.", before,
                       heading.where, heading.words),
           date);
}

bool within(const Place& place, const Place& area) {
  if (area.uncertainty_m <= place.uncertainty_m && place.gazetteer_id != area.gazetteer_id) return false;
  return distance_m(place.lat_deg, place.lon_deg, area.lat_deg, area.lon_deg) <= area.uncertainty_m;
}

void settle_place(const Heading& heading, std::optional<Claim<Place>>& place) {
  const Place& area = *heading.place;
  if (!place || !place->value) {
    if (place && speaks_against(place->alternatives, [&](const Place& other) { return within(other, area); })) return;
    if (!place)
      place = Claim<Place>{
          .verbatim = heading.words, .value = {}, .confidence = 0, .alternatives = {}, .reasons = {}, .evidence = {}};
    place->reasons.push_back(fmt::format("What can be said of the place is {}, \"{}\".", heading.where, heading.words));
    place->value = area;
    place->confidence = heading.confidence * kFromHeading;
    return;
  }
  if (place->confidence >= kClear || within(*place->value, area)) return;
  const auto inside = std::ranges::find_if(place->alternatives, [&](const auto& other) { return within(other.first, area); });
  if (inside == place->alternatives.end()) return;
  place->reasons.push_back(fmt::format("{} was not sure and lies outside {}, \"{}\": the other place is taken.",
                                       place->value->name, heading.where, heading.words));
  std::swap(*place->value, inside->first);
}

}  // namespace

std::optional<Heading> heading_of(const std::string& words, const std::string& where, const Gazetteer* gazetteer,
                                  const Options& options) {
  Reading line;
  line.text = words;
  line.confidence = 1;
  Annotation annotation;
  annotation.lines = {line};
  annotation.text = words;
  const auto facts = interpret(annotation, {}, gazetteer, options);
  if (!facts) return std::nullopt;
  Heading heading{.where = where, .words = words, .confidence = 1, .years = {}, .place = {}, .collector = {}};
  if (facts->date) heading.years = years_of(*facts->date);
  if (facts->place) heading.place = facts->place->value;
  if (facts->collector) heading.collector = facts->collector->value;
  if (!heading.years && !heading.place && !heading.collector) return std::nullopt;
  return heading;
}

std::optional<Heading> heading_in(const Annotation& annotation, const Interpretation& alone, const std::string& where) {
  const bool of_one =
      alone.taxon || alone.sex || alone.number || alone.type_status || alone.elevation || alone.coordinates || alone.determiner;
  if (of_one) return std::nullopt;
  Heading heading{
      .where = "the heading on " + where, .words = annotation.text, .confidence = 1, .years = {}, .place = {}, .collector = {}};
  std::ranges::replace(heading.words, '\n', ' ');
  if (alone.date) heading.years = years_of(*alone.date);
  if (alone.date && alone.date->value && !heading.years) return std::nullopt;  // of one day or month
  if (alone.place) heading.place = alone.place->value;
  if (alone.collector) heading.collector = alone.collector->value;
  if (heading.years) heading.confidence = std::min(heading.confidence, alone.date->confidence);
  if (heading.place) heading.confidence = std::min(heading.confidence, alone.place->confidence);
  const bool span = heading.years && heading.years->last > heading.years->first &&
                    heading.years->last - heading.years->first <= kLongest_years;
  const bool all = begins_with_all(annotation) && (heading.years || heading.place || heading.collector);
  // Two years stated in full: on one envelope they would be no date of one specimen.
  const bool in_full = span && alone.date->value->find('/') != std::string::npos;
  return all || in_full ? std::optional(std::move(heading)) : std::nullopt;
}

void go_by_heading(const Heading& heading, Interpretation& facts) {
  if (heading.years && heading.years->last - heading.years->first <= kLongest_years) settle_date(heading, facts.date);
  if (heading.place) settle_place(heading, facts.place);
  if (heading.collector && !facts.collector)
    facts.collector =
        Claim<std::string>{.verbatim = heading.words,
                           .value = heading.collector,
                           .confidence = heading.confidence * kFromHeading,
                           .alternatives = {},
                           .reasons = {fmt::format("The collector is that of {}, \"{}\".", heading.where, heading.words)},
                           .evidence = {}};
}

}  // namespace papillote::interpretation
