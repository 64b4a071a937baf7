// papillote interpret KIND: one verbatim text a line on stdin -> one JSON object a line on stdout.
#include <fmt/format.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>

#include "pipeline/app/command.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/elevations.h"

namespace papillote::app::commands {
namespace {

using interpretation::DateContext;
using Json = nlohmann::ordered_json;  // keys stay in the order in which they are promised

struct Arguments {
  std::string kind;
  std::string period;
  std::string order;
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

ExitCode run(const Arguments& arguments) {
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
  subcommand.add_option("kind", arguments->kind, "What the lines hold: dates, elevations or coordinates.")
      ->required()
      ->check(CLI::IsMember({"dates", "elevations", "coordinates"}));
  subcommand.add_option("--period", arguments->period,
                        "Years that the dates lie in, such as 1895/1904: settles years of two digits.");
  subcommand
      .add_option("--order", arguments->order, "Order of day and month in figures, where it is known: day-month or month-day.")
      ->check(CLI::IsMember({"day-month", "month-day"}));
  return [arguments] { return run(*arguments); };
}

}  // namespace

extern const Command interpret;
const Command interpret{
    "interpret", "Care", "Interpret texts from stdin, a line each, as JSON.",
    "Prints {\"verbatim\",\"value\",\"confidence\",\"alternatives\",\"reasons\"} for every line; value is null where it is\n"
    "left open. Dates are EDTF, elevations [min,max] in metres, coordinates {\"lat\",\"lon\"} in degrees.\n"
    "Example: echo '12.vii.09' | papillote interpret dates --period 1895/1915",
    setup};

}  // namespace papillote::app::commands
