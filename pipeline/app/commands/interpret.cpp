// papillote interpret KIND: one verbatim text a line on stdin -> one JSON object a line on stdout.
#include <fmt/format.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <utility>

#include "pipeline/app/command.h"
#include "pipeline/app/gazetteers.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/elevations.h"
#include "stages/interpretation/places.h"

namespace papillote::app::commands {
namespace {

using interpretation::DateContext;
using Json = nlohmann::ordered_json;  // keys stay in the order in which they are promised

struct Arguments {
  std::string kind;
  std::string period;
  std::string order;
  std::string gazetteer;
  std::string collection;
};

template <class Value, class AnyReading, class AsJson>
Json answer(const std::string& text, const AnyReading& reading, const std::optional<Value>& value, AsJson as_json) {
  Json alternatives = Json::array();
  for (const auto& [other, confidence] : reading.alternatives)
    alternatives.push_back({{"value", as_json(other)}, {"confidence", confidence}});
  return {{"verbatim", text},
          {"value", value ? as_json(*value) : Json()},
          {"confidence", value ? reading.confidence : 0.0},
          {"alternatives", std::move(alternatives)},
          {"reasons", reading.reasons}};
}

Json date_of(const std::string& text, const DateContext& context) {
  const auto reading = interpretation::read_date(text, context);
  return answer(text, reading, reading.edtf, [](const std::string& edtf) { return Json(edtf); });
}

Json elevation_of(const std::string& text) {
  const auto reading = interpretation::read_elevation(text);
  return answer(text, reading, reading.metres, [](const ElevationRange& range) {
    return Json::array({range.min_m, range.max_m});
  });
}

Json coordinates_of(const std::string& text) {
  const auto reading = interpretation::read_coordinates(text);
  return answer(text, reading, reading.degrees, [](const interpretation::Coordinates& degrees) {
    return Json{{"lat", degrees.lat_deg ? Json(*degrees.lat_deg) : Json()},
                {"lon", degrees.lon_deg ? Json(*degrees.lon_deg) : Json()}};
  });
}

// The line may go on after tabs: the country (ISO 3166-1 code or English name), then the state or province.
Json place_of(const std::string& line, const interpretation::Gazetteer& gazetteer) {
  const auto first = line.find('\t');
  interpretation::PlaceHint hint;
  if (first != std::string::npos) {
    const auto second = line.find('\t', first + 1);
    hint.country = line.substr(first + 1, second == std::string::npos ? second : second - first - 1);
    if (second != std::string::npos) hint.state = line.substr(second + 1, line.find('\t', second + 1) - second - 1);
  }
  const interpretation::TextCandidate text{line.substr(0, first), 1};
  const auto claim = interpretation::read_place(std::span(&text, 1), gazetteer, hint).claim;
  return answer(text.text, claim, claim.value, [](const Place& place) {
    return Json{{"name", place.name},
                {"country", place.country},
                {"lat", place.lat_deg},
                {"lon", place.lon_deg},
                {"uncertainty_m", place.uncertainty_m},
                {"id", place.gazetteer_id}};
  });
}

ExitCode run_places(const Arguments& arguments) {
  const auto gazetteer = open_gazetteer(arguments.gazetteer, arguments.collection);
  if (!gazetteer.ok()) {
    std::cerr << fmt::format("papillote: {} {}\n", gazetteer.failure().reason, gazetteer.failure().remedy);
    return kCannotGoOn;
  }
  std::ios::sync_with_stdio(false);
  for (std::string line; std::getline(std::cin, line);)
    std::cout << place_of(line, *gazetteer).dump(-1, ' ', false, Json::error_handler_t::replace) << '\n';
  std::cout.flush();
  return std::cout ? kAllDone : kCannotGoOn;
}

ExitCode run(const Arguments& arguments) {
  if (arguments.kind == "places") return run_places(arguments);
  DateContext context;
  if (!arguments.period.empty()) {
    context.period = interpretation::read_period(arguments.period);
    if (!context.period) {
      std::cerr << fmt::format(
          "papillote: --period {} is no span of years. Write two years, the earlier first, such as 1895/1904.\n",
          arguments.period);
      return kWrongCommand;
    }
  }
  if (arguments.order == "day-month") context.order = DateContext::Order::day_month;
  if (arguments.order == "month-day") context.order = DateContext::Order::month_day;

  std::ios::sync_with_stdio(false);
  for (std::string text; std::getline(std::cin, text);) {
    const Json json = arguments.kind == "dates"        ? date_of(text, context)
                      : arguments.kind == "elevations" ? elevation_of(text)
                                                       : coordinates_of(text);
    // Bytes that are no UTF-8 cannot stand in JSON: they are shown as U+FFFD.
    std::cout << json.dump(-1, ' ', false, Json::error_handler_t::replace) << '\n';
  }
  std::cout.flush();
  return std::cout ? kAllDone : kCannotGoOn;
}

std::function<ExitCode()> setup(CLI::App& subcommand) {
  auto arguments = std::make_shared<Arguments>();
  subcommand.add_option("kind", arguments->kind, "What the lines hold: dates, elevations, coordinates or places.")
      ->required()
      ->check(CLI::IsMember({"dates", "elevations", "coordinates", "places"}));
  subcommand.add_option("--period", arguments->period,
                        "Years that the dates lie in, such as 1895/1904: settles years of two digits.");
  subcommand
      .add_option("--order", arguments->order, "Order of day and month in figures, where it is known: day-month or month-day.")
      ->check(CLI::IsMember({"day-month", "month-day"}));
  subcommand.add_option("--gazetteer", arguments->gazetteer,
                        "Gazetteer file for places; default: 'gazetteer/places.bin' beside the program.");
  subcommand.add_option("--collection", arguments->collection, "Collection whose own places count as well.");
  return [arguments] { return run(*arguments); };
}

}  // namespace

extern const Command interpret;
const Command interpret{
    "interpret", "Care", "Interpret texts from stdin, a line each, as JSON.",
    "Prints {\"verbatim\",\"value\",\"confidence\",\"alternatives\",\"reasons\"} for every line; value is null where it is\n"
    "left open. Dates are EDTF, elevations [min,max] in metres, coordinates {\"lat\",\"lon\"} in degrees;\n"
    "places {\"name\",\"country\",\"lat\",\"lon\",\"uncertainty_m\",\"id\"}, where a line may go on after tabs with country "
    "and state.\n"
    "Example: echo '12.vii.09' | papillote interpret dates --period 1895/1915",
    setup};

}  // namespace papillote::app::commands
