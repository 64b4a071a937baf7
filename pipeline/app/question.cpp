#include "pipeline/app/question.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>
#include <cmath>

#include "pipeline/app/days.h"
#include "pipeline/app/gazetteers.h"
#include "stages/interpretation/edtf.h"
#include "stages/interpretation/place_names.h"

namespace papillote::app {
namespace {

Result<store::DayRange> days_in(const std::string& period) {
  const auto edtf = interpretation::parse_edtf(period);
  if (!edtf)
    return Failure{"app", "wrong_period", fmt::format("\"{}\" is no period.", period),
                   "Write a date or two with a stroke between them, as in 1895/1904, 1932-07 or 193X."};
  return days_of(interpretation::day_bounds(*edtf));
}

std::optional<store::Near> coordinates_in(const std::string& text, double km) {
  const std::size_t comma = text.find(',');
  if (comma == std::string::npos) return std::nullopt;
  const auto number = [](std::string_view part) -> std::optional<double> {
    while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), value);
    if (error != std::errc{} || end != part.data() + part.size()) return std::nullopt;
    return value;
  };
  const auto lat = number(std::string_view(text).substr(0, comma));
  const auto lon = number(std::string_view(text).substr(comma + 1));
  if (!lat || !lon || std::abs(*lat) > 90 || std::abs(*lon) > 180) return std::nullopt;
  return store::Near{*lat, *lon, km};
}

// Of places of one name the one most people live in: whoever means another writes its coordinates.
Result<store::Near> place_near(const std::string& name, double km, const std::string& collection) {
  const auto gazetteer = open_gazetteer({}, collection);
  if (!gazetteer.ok()) return gazetteer.failure();
  std::optional<interpretation::GazetteerPlace> best;
  for (const interpretation::NameMatch& match : gazetteer->named(interpretation::name_key(name))) {
    const interpretation::GazetteerPlace place = gazetteer->place(match.place);
    if (!match.abbreviation && (!best || place.population > best->population)) best = place;
  }
  if (!best)
    return Failure{"app", "unknown_place", fmt::format("The gazetteer knows no place \"{}\".", name),
                   "Write its latitude and longitude, as in --near 46.08,6.73."};
  return store::Near{best->lat_deg, best->lon_deg, km};
}

}  // namespace

void add_filters(CLI::App& command, Asked& asked) {
  command.add_option("words", asked.words,
                     "Words on the envelope; near misses are found too. A word ending in * is a beginning.");
  command.add_option("--place", asked.place, "Words of the place.");
  command.add_option("--near", asked.near, "Within --km of here: latitude,longitude in degrees, or the name of a place.");
  command.add_option("--km", asked.km, "Distance for --near.")->check(CLI::Range(0.0, 20100.0))->capture_default_str();
  command.add_option("--period", asked.period, "Dates that overlap it: 1895/1904, 1932-07, 193X.");
  command.add_option("--tin", asked.tin, "Tin; an empty text means envelopes of no known tin.");
  command.add_option("--taxon", asked.taxon, "Beginning of the name of the taxon.");
  command.add_option("--priority", asked.priority, "Level of priority.")
      ->check(CLI::IsMember({"isolate", "stabilise", "valuable", "routine"}));
  command.add_option("--finding", asked.finding, "Kind of damage, such as hole, mould or tear.");
  command.add_option("--severity", asked.severity, "Least severity of --finding, 1 trace to 4 severe.")
      ->check(CLI::Range(1, 4))
      ->capture_default_str();
  command.add_flag("--exact", asked.exact, "No near misses.");
  command.add_flag("--place-open", asked.place_open, "Only envelopes whose place is not resolved.");
}

Result<store::Question> question_of(const Asked& asked, const std::string& collection) {
  store::Question question;
  question.words = fmt::format("{}", fmt::join(asked.words, " "));
  question.near_misses = !asked.exact;
  question.place = asked.place;
  if (!asked.near.empty()) {
    question.near = coordinates_in(asked.near, asked.km);
    if (!question.near) {
      auto near = place_near(asked.near, asked.km, collection);
      if (!near.ok()) return near.failure();
      question.near = *near;
    }
  }
  if (!asked.period.empty()) {
    const auto days = days_in(asked.period);
    if (!days.ok()) return days.failure();
    question.period = *days;
  }
  question.tin = asked.tin;
  question.taxon = asked.taxon;
  question.level = asked.priority;
  question.finding = asked.finding;
  question.least_severity = asked.severity;
  question.place_open = asked.place_open;
  return question;
}

std::string words_of(const Asked& asked) {
  std::vector<std::string> parts;
  if (!asked.words.empty()) parts.push_back(fmt::format("words \"{}\"", fmt::join(asked.words, " ")));
  if (!asked.place.empty()) parts.push_back(fmt::format("place \"{}\"", asked.place));
  if (!asked.near.empty()) parts.push_back(fmt::format("within {:g} km of {}", asked.km, asked.near));
  if (!asked.period.empty()) parts.push_back("period " + asked.period);
  if (asked.tin) parts.push_back(asked.tin->empty() ? "of no known tin" : "tin " + *asked.tin);
  if (!asked.taxon.empty()) parts.push_back("taxon " + asked.taxon);
  if (!asked.priority.empty()) parts.push_back("priority " + asked.priority);
  if (!asked.finding.empty())
    parts.push_back(asked.severity > 1 ? fmt::format("{} of severity {} or more", asked.finding, asked.severity)
                                       : "with " + asked.finding);
  if (asked.place_open) parts.push_back("place open");
  return parts.empty() ? "the whole collection" : fmt::format("{}", fmt::join(parts, ", "));
}

}  // namespace papillote::app
