#include "pipeline/app/corrections.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "pipeline/app/days.h"
#include "pipeline/bench/page.h"
#include "pipeline/bench/scan.h"
#include "pipeline/record/codec.h"
#include "pipeline/record/csv.h"
#include "pipeline/store/index.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/edtf.h"

namespace papillote::app {
namespace {

constexpr std::string_view kNone = "(none)";
constexpr std::string_view kTakeBack = "(take back)";
constexpr std::array<std::string_view, 11> kTerms{"text",  "date", "place",       "coordinates", "elevation", "collector",
                                                  "taxon", "sex",  "type_status", "number",      "priority"};
constexpr std::array<std::string_view, 11> kColumns{"id",  "catalogue_number", "term",     "value",     "who",          "note",
                                                    "was", "country",          "latitude", "longitude", "uncertainty_m"};

Failure refused(std::string reason, std::string remedy = "") {
  return {"app", "bad_row", std::move(reason), std::move(remedy)};
}

// Cells by the name of their column; an absent one is empty.
using Cells = std::map<std::string, std::string, std::less<>>;

const std::string& cell(const Cells& cells, std::string_view name) {
  static const std::string kEmpty;
  const auto at = cells.find(name);
  return at == cells.end() ? kEmpty : at->second;
}

std::string text_value(const std::optional<Claim<std::string>>& claim) {
  return claim && claim->value ? *claim->value : std::string(kNone);
}

std::string degrees(double value) { return fmt::format("{:.6g}", value); }

std::optional<double> within(const std::string& text, double least, double most) {
  const auto number = number_in(text);
  return number && *number >= least && *number <= most ? number : std::nullopt;
}

Result<std::string> scanned_id(store::Store& store, const Cells& cells) {
  std::optional<std::string> id;
  for (const char* name : {"id", "catalogue_number"}) {
    if (cell(cells, name).empty()) continue;
    const auto scanned = bench::scanned_envelope(store, cell(cells, name));
    if (!scanned.ok()) return scanned.failure();
    if (id && *id != scanned->id) return refused("id and catalogue_number name two envelopes.");
    id = scanned->id;
  }
  if (!id) return refused("it names no envelope.");
  return *id;
}

Result<nlohmann::json> place_value(const Cells& cells) {
  Place place;
  place.name = cell(cells, "value");
  place.country = cell(cells, "country");
  const auto is_capital = [](char c) { return c >= 'A' && c <= 'Z'; };
  if (!place.country.empty() &&
      (place.country.size() != 2 || !std::all_of(place.country.begin(), place.country.end(), is_capital)))
    return refused(fmt::format("\"{}\" is no country.", bench::harmless(place.country)),
                   "Write its ISO 3166-1 code, such as FR.");
  const auto lat = within(cell(cells, "latitude"), -90, 90);
  const auto lon = within(cell(cells, "longitude"), -180, 180);
  const auto radius = within(cell(cells, "uncertainty_m"), 1, 2e7);
  if (!lat || !lon || !radius)
    return refused("a place needs latitude, longitude and uncertainty_m.", "Write degrees and metres.");
  place.lat_deg = *lat;
  place.lon_deg = *lon;
  place.uncertainty_m = *radius;
  return nlohmann::json(place);
}

Result<nlohmann::json> elevation_value(const std::string& text) {
  std::string ranged = text;
  if (const std::size_t dash = ranged.find("–"); dash != std::string::npos) ranged.replace(dash, std::string("–").size(), "-");
  const std::size_t dash = ranged.find('-', 1);
  const auto least = within(ranged.substr(0, dash), -500, 9000);
  const auto most = dash == std::string::npos ? least : within(ranged.substr(dash + 1), -500, 9000);
  if (!least || !most || *most < *least)
    return refused(fmt::format("\"{}\" is no elevation.", bench::harmless(text)), "Write metres, as in 1600 or 1600-1700.");
  return nlohmann::json(ElevationRange{*least, *most});
}

Result<nlohmann::json> coordinates_value(const Cells& cells) {
  const std::string& text = cell(cells, "value");
  const auto degrees = interpretation::read_coordinates(text).degrees;
  if (!degrees || !degrees->lat_deg || !degrees->lon_deg)
    return refused(fmt::format("\"{}\" are no coordinates.", bench::harmless(text)),
                   "Write latitude and longitude, as in 46.02, 7.75.");
  const auto radius = cell(cells, "uncertainty_m").empty() ? std::optional(0.0) : within(cell(cells, "uncertainty_m"), 0, 2e7);
  if (!radius) return refused("uncertainty_m is no radius in metres.");
  return nlohmann::json(GeoPoint{*degrees->lat_deg, *degrees->lon_deg, *radius});
}

Result<nlohmann::json> json_value(const std::string& term, const Cells& cells, std::optional<store::DayRange>& days) {
  const std::string& text = cell(cells, "value");
  if (term == "place") return place_value(cells);
  if (term == "elevation") return elevation_value(text);
  if (term == "coordinates") return coordinates_value(cells);
  if (term == "date") {
    const auto edtf = interpretation::parse_edtf(text);
    if (!edtf)
      return refused(fmt::format("\"{}\" is no date.", bench::harmless(text)),
                     "Write it in EDTF: 1906-06-12, 1906-06, 190X, 1906/1908.");
    days = days_of(interpretation::day_bounds(*edtf));
  }
  if (term == store::kPriorityTerm && !is_level(text))
    return refused(fmt::format("\"{}\" is no priority.", bench::harmless(text)), fmt::format("Write one of: {}.", fmt::join(kLevels, ", ")));
  return nlohmann::json(text);
}

// The record as it stands, on the photograph that shows its front.
std::optional<IndexRecord> record_of(store::Store& store, const std::string& id) {
  const auto views = store::views_of(store, id);
  if (views.empty()) return std::nullopt;
  return store::with_decisions(views.front().record, store::decisions_of(store, id));
}

Result<Correction> correction_of(store::Store& store, const Cells& cells, int line, const std::string& who,
                                 const std::string& when) {
  const auto id = scanned_id(store, cells);
  if (!id.ok()) return id.failure();
  const std::string& term = cell(cells, "term");
  if (std::find(kTerms.begin(), kTerms.end(), term) == kTerms.end())
    return refused(fmt::format("\"{}\" is no term.", bench::harmless(term)),
                   fmt::format("Write one of: {}.", fmt::join(kTerms, ", ")));
  const std::string& value = cell(cells, "value");
  if (value.empty()) return refused("there is no value.", "Write it, or (none) where there is none, or (take back).");
  if (term != "text")
    if (const auto plain = bench::plain_words(value, "value"); !plain.ok()) return plain.failure();
  Correction correction;
  correction.line = line;
  correction.decision = {
      *id, term, "", cell(cells, "who").empty() ? who : cell(cells, "who"), when, cell(cells, "note"), std::nullopt};
  for (const auto& [words, what] : {std::pair(correction.decision.who, "name"), {correction.decision.note, "note"}})
    if (const auto plain = bench::plain_words(words, what); !plain.ok()) return plain.failure();
  if (correction.decision.who.empty()) return refused("nobody says who settled it.", "Fill the column who, or give --who.");
  if (value == kNone) {
    correction.decision.value = "null";
  } else if (value != kTakeBack) {
    const auto json = json_value(term, cells, correction.decision.days);
    if (!json.ok()) return json.failure();
    correction.decision.value = json->dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  }
  const auto record = record_of(store, *id);
  if (!record) return refused("its envelope is on no photograph of the index any more.", "Process its photographs again.");
  correction.now = value_words(*record, term);
  correction.then = value;
  if (!cell(cells, "was").empty()) correction.was = cell(cells, "was");
  if (correction.was && *correction.was != correction.now)
    return refused(fmt::format("it rests on \"{}\", but \"{}\" stands there now.", bench::harmless(*correction.was),
                               bench::harmless(correction.now)),
                   "Look at the envelope again.");
  return correction;
}

}  // namespace

std::string value_words(const IndexRecord& record, const std::string& term) {
  const Interpretation& facts = record.interpretation;
  if (term == "text") return record.annotation.text.empty() ? std::string(kNone) : record.annotation.text;
  if (term == store::kPriorityTerm) return record.triage.level;
  if (term == "date") return text_value(facts.date);
  if (term == "place") return facts.place && facts.place->value ? facts.place->value->name : std::string(kNone);
  if (term == "coordinates")
    return facts.coordinates && facts.coordinates->value
               ? fmt::format("{}, {}", degrees(facts.coordinates->value->lat_deg), degrees(facts.coordinates->value->lon_deg))
               : std::string(kNone);
  if (term == "elevation") {
    if (!facts.elevation || !facts.elevation->value) return std::string(kNone);
    const ElevationRange& range = *facts.elevation->value;
    return range.min_m == range.max_m ? fmt::format("{:g}", range.min_m) : fmt::format("{:g}-{:g}", range.min_m, range.max_m);
  }
  if (term == "collector") return text_value(facts.collector);
  if (term == "taxon") return text_value(facts.taxon);
  if (term == "sex") return text_value(facts.sex);
  if (term == "type_status") return text_value(facts.type_status);
  return text_value(facts.number);
}

Result<CorrectionTable> read_corrections(store::Store& store, std::string_view csv, const std::string& who,
                                         const std::string& when) {
  const std::vector<CsvRow> rows = kept_rows(csv);
  const auto no_table = [](std::string reason) {
    return Failure{"app", "no_table", std::move(reason),
                   fmt::format("The first row names the columns: id or catalogue_number, term, value; known are {}.",
                               fmt::join(kColumns, ", "))};
  };
  if (rows.empty()) return no_table("The table is empty.");
  const std::vector<std::string>& head = rows.front().cells;
  std::set<std::string> names;
  for (const std::string& name : head) {
    if (std::find(kColumns.begin(), kColumns.end(), name) == kColumns.end())
      return no_table(fmt::format("\"{}\" is no column of corrections.", bench::harmless(name)));
    if (!names.insert(name).second) return no_table(fmt::format("The column {} comes twice.", name));
  }
  if ((!names.contains("id") && !names.contains("catalogue_number")) || !names.contains("term") || !names.contains("value"))
    return no_table("The table lacks a column.");

  CorrectionTable table;
  std::map<std::pair<std::string, std::string>, int> settled;  // envelope and term: line
  for (std::size_t k = 1; k < rows.size(); ++k) {
    const auto fault = [&](const Failure& why) {
      table.faults.push_back(
          fmt::format("line {}: {}{}{}", rows[k].line, bench::harmless(why.reason), why.remedy.empty() ? "" : " ", why.remedy));
    };
    if (rows[k].cells.size() > head.size()) {
      fault(refused("it has more cells than the first row."));
      continue;
    }
    Cells cells;
    for (std::size_t c = 0; c < rows[k].cells.size(); ++c) cells[head[c]] = rows[k].cells[c];
    auto correction = correction_of(store, cells, rows[k].line, who, when);
    if (!correction.ok()) {
      fault(correction.failure());
      continue;
    }
    const auto [before, fresh] =
        settled.try_emplace({correction->decision.envelope_id, correction->decision.term}, rows[k].line);
    if (fresh)
      table.corrections.push_back(std::move(correction).value());
    else
      fault(refused(fmt::format("line {} settles the same already.", before->second)));
  }
  return table;
}

Result<Done> record_corrections(store::Store& store, const std::vector<Correction>& corrections) {
  std::vector<store::Decision> decisions;
  for (const Correction& correction : corrections) decisions.push_back(correction.decision);
  return store::decide_together(store, decisions, [&]() -> std::optional<Failure> {
    for (const Correction& correction : corrections) {
      if (!correction.was) continue;
      const auto record = record_of(store, correction.decision.envelope_id);
      if (!record || value_words(*record, correction.decision.term) != *correction.was)
        return Failure{"app", "conflict",
                       fmt::format("line {}: somebody changed {} of {} in the meantime; nothing was recorded.", correction.line,
                                   correction.decision.term, correction.decision.envelope_id),
                       "Look at the envelope again."};
    }
    return std::nullopt;
  });
}

}  // namespace papillote::app
