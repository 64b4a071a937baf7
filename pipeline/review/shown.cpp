#include "pipeline/review/shown.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "pipeline/image/image.h"
#include "pipeline/record/codec.h"

namespace papillote::review {
namespace {

using nlohmann::json;

constexpr double kDoubtfulCharacter = 0.6;
constexpr std::size_t kLongestText = 8000;
constexpr std::size_t kLongestName = 300;

json claim(const json& interpretation, const std::string& term, const Annotation& annotation) {
  const json& c = interpretation.at(term);
  if (c.is_null()) return nullptr;
  json evidence = json::array();
  for (const json& e : c.at("evidence")) {
    const auto found = e.get<Evidence>();
    if (found.line < 0 || static_cast<std::size_t>(found.line) >= annotation.lines.size()) continue;
    const std::string& text = annotation.lines[static_cast<std::size_t>(found.line)].text;
    evidence.push_back({{"line", found.line}, {"from", units_before(text, found.begin)}, {"to", units_before(text, found.end)}});
  }
  json alternatives = json::array();
  for (const json& other : c.at("alternatives"))
    alternatives.push_back({{"value", other.at(0)}, {"shown", words_of_value(term, other.at(0))}, {"confidence", other.at(1)}});
  return {{"term", term},
          {"verbatim", c.at("verbatim")},
          {"value", c.at("value")},
          {"shown", c.at("value").is_null() ? "" : words_of_value(term, c.at("value"))},
          {"confidence", c.at("confidence")},
          {"reasons", c.at("reasons")},
          {"alternatives", alternatives},
          {"evidence", evidence},
          {"settled", store::is_settled(c.at("reasons").get<std::vector<std::string>>())}};
}

// Runs of characters that the reader is not sure of.
json doubtful(const Reading& reading) {
  json runs = json::array();
  int unit = 0;
  int from = -1;
  std::size_t point = 0;
  for (std::size_t i = 0; i < reading.text.size();) {
    const auto lead = static_cast<unsigned char>(reading.text[i]);
    const std::size_t bytes = lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
    const bool doubt = point < reading.character_confidence.size() && reading.character_confidence[point] < kDoubtfulCharacter;
    if (doubt && from < 0) from = unit;
    if (!doubt && from >= 0) {
      runs.push_back({from, unit});
      from = -1;
    }
    unit += bytes == 4 ? 2 : 1;
    ++point;
    i += bytes;
  }
  if (from >= 0) runs.push_back({from, unit});
  return runs;
}

bool number_within(const json& value, const char* member, double least, double most) {
  if (!value.contains(member) || !value.at(member).is_number()) return false;
  const double number = value.at(member).get<double>();
  return std::isfinite(number) && number >= least && number <= most;
}

bool short_text(const json& value, std::size_t most) { return value.is_string() && value.get_ref<const std::string&>().size() <= most; }

}  // namespace

int units_before(const std::string& text, int at) {
  int units = 0;
  for (std::size_t i = 0; i < text.size() && static_cast<int>(i) < at; ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    if ((byte & 0xC0) != 0x80) units += byte >= 0xF0 ? 2 : 1;
  }
  return units;
}

const std::vector<std::string>& terms() {
  static const std::vector<std::string> all{"date", "place", "collector", "taxon", "sex", "type_status", "elevation", "coordinates", "number"};
  return all;
}

bool is_term(const std::string& term) {
  if (term.starts_with(store::kFindingTerm)) return term.size() > store::kFindingTerm.size() && term.size() < 60;
  return term == "text" || term == store::kPriorityTerm || std::find(terms().begin(), terms().end(), term) != terms().end();
}

std::string words_of_value(const std::string& term, const json& value) {
  if (value.is_null()) return "";
  if (term == "place") {
    const auto place = value.get<Place>();
    std::string words = place.name;
    if (!place.country.empty()) words += ", " + place.country;
    words += fmt::format(" · {:.3f}, {:.3f}", place.lat_deg, place.lon_deg);
    if (place.uncertainty_m > 0) words += fmt::format(" ± {:.3g} km", place.uncertainty_m / 1000);
    return words;
  }
  if (term == "coordinates") {
    const auto at = value.get<GeoPoint>();
    std::string words = fmt::format("{:.5g}, {:.5g}", at.lat_deg, at.lon_deg);
    if (at.uncertainty_m > 0) words += fmt::format(" ± {:.3g} km", at.uncertainty_m / 1000);
    return words;
  }
  if (term == "elevation") {
    const auto range = value.get<ElevationRange>();
    return range.min_m == range.max_m ? fmt::format("{:.0f} m", range.min_m) : fmt::format("{:.0f}–{:.0f} m", range.min_m, range.max_m);
  }
  return value.is_string() ? value.get<std::string>() : value.dump(-1, ' ', false, json::error_handler_t::replace);
}

json value_of(const IndexRecord& record, const std::string& term) {
  if (term == "text") return record.annotation.text;
  if (term == store::kPriorityTerm) return record.triage.level;
  const json facts = record.interpretation;
  const json& claim = facts.at(term);
  return claim.is_null() ? json() : claim.at("value");
}

std::string fault_of(const std::string& term, const json& value) {
  if (term.starts_with(store::kFindingTerm)) {
    if (is_term(term) && value.is_number_integer() && value.get<std::int64_t>() >= 0 && value.get<std::int64_t>() <= 4) return "";
    return "A finding is judged by a number: 0 not there, 1 trace, 2 slight, 3 serious, 4 severe.";
  }
  if (term == store::kPriorityTerm) {
    const bool level = value.is_string() && is_level(value.get_ref<const std::string&>());
    return level ? "" : fmt::format("A priority is one of: {}.", fmt::join(kLevels, ", "));
  }
  if (term == "text") return short_text(value, kLongestText) ? "" : "The text must be a text of at most 8000 bytes.";
  if (!is_term(term)) return "There is no such term: " + term.substr(0, 60) + ".";
  if (value.is_null()) return "";
  if (term == "place") {
    const bool right = value.is_object() && value.size() == 6 && value.contains("name") && short_text(value.at("name"), kLongestName) &&
                       value.contains("gazetteer_id") && short_text(value.at("gazetteer_id"), kLongestName) && value.contains("country") &&
                       short_text(value.at("country"), 8) && number_within(value, "lat_deg", -90, 90) &&
                       number_within(value, "lon_deg", -180, 180) && number_within(value, "uncertainty_m", 0, 2.1e7);
    return right ? "" : "This is no place: it needs a name, a latitude and a longitude.";
  }
  if (term == "coordinates")
    return value.is_object() && value.size() == 3 && number_within(value, "lat_deg", -90, 90) && number_within(value, "lon_deg", -180, 180) &&
                   number_within(value, "uncertainty_m", 0, 2.1e7)
               ? ""
               : "These are no coordinates: latitude within 90 and longitude within 180 degrees.";
  if (term == "elevation")
    return value.is_object() && value.size() == 2 && number_within(value, "min_m", -500, 9000) && number_within(value, "max_m", -500, 9000) &&
                   value.at("min_m") <= value.at("max_m")
               ? ""
               : "This is no elevation between -500 and 9000 m.";
  return short_text(value, kLongestName) && !value.get_ref<const std::string&>().empty() ? "" : "Write a text of at most 300 bytes.";
}

json shown(const store::Hit& hit) {
  return {{"id", hit.id},
          {"number", hit.catalogue_number},
          {"tin", hit.tin},
          {"sheet", hit.sheet},
          {"side", hit.side},
          {"position", hit.position},
          {"text", hit.text},
          {"date", hit.date},
          {"place", hit.place},
          {"country", hit.country},
          {"collector", hit.collector},
          {"taxon", hit.taxon},
          {"level", hit.level},
          {"findings", hit.findings},
          {"exact", hit.exact},
          {"settled", hit.settled}};
}

json shown(const store::Decision& decision) {
  json value = decision.value.empty() ? json() : json::parse(decision.value);
  std::string words = decision.value;
  try {
    if (!value.is_null() && decision.term != store::kConfirmed && decision.term != store::kChecked) words = words_of_value(decision.term, value);
  } catch (const json::exception&) {  // written by hand into the store: shown as it is
  }
  return {{"term", decision.term}, {"raw", decision.value}, {"shown", words}, {"who", decision.who}, {"when", decision.when}, {"note", decision.note}};
}

json shown(const store::EnvelopeView& raw, const std::vector<store::Decision>& decisions) {
  const IndexRecord record = store::with_decisions(raw.record, decisions);
  const bool upright = record.outline.crop.width_px > 0 && record.outline.crop.height_px > 0;
  const cv::Matx33d crop_from_photo = upright ? image::crop_from_photo(record.outline.crop) : cv::Matx33d::eye();
  const auto in_crop = [&](const Polygon& polygon) { return json(image::carried(polygon, crop_from_photo)); };
  json lines = json::array();
  for (const Reading& reading : record.annotation.lines)
    lines.push_back({{"text", reading.text},
                     {"kind", reading.line.kind},
                     {"confidence", reading.confidence},
                     {"doubtful", doubtful(reading)},
                     {"alternatives", reading.alternatives},
                     {"polygon", in_crop(reading.line.polygon_px)}});
  json facts = json::object();
  const json interpretation = record.interpretation;
  for (const std::string& term : terms()) facts[term] = claim(interpretation, term, record.annotation);
  json findings = json::array();
  for (const Finding& finding : record.condition.findings) {
    json one = finding;
    one["polygon"] = in_crop(finding.polygon_px);
    one.erase("polygon_px");
    findings.push_back(std::move(one));
  }
  json machine = json::array();  // kinds as the machine has them, so that what was refuted can still be seen
  for (const Finding& finding : raw.record.condition.findings)
    machine.push_back({{"kind", finding.kind}, {"severity", finding.severity}, {"confidence", finding.confidence}, {"words", finding.words},
                       {"polygon", in_crop(finding.polygon_px)}});
  const Sheet sheet = raw.calibration.sheet.value_or(Sheet{});
  return {{"photograph", raw.photo.path},
          {"photo_px", {raw.photo.width_px, raw.photo.height_px}},
          {"tin", sheet.tin},
          {"sheet", sheet.sheet},
          {"side", sheet.side},
          {"position", record.outline.number + 1},
          {"outline", record.outline.polygon_px},
          {"crop_px", {record.outline.crop.width_px, record.outline.crop.height_px}},
          {"size_mm", record.outline.size_mm},
          {"text", record.annotation.text},
          {"read", raw.record.annotation.text},
          {"lines", lines},
          {"facts", facts},
          {"findings", findings},
          {"machine_findings", machine},
          {"condition", {{"judged", record.condition.judged}, {"why_not", record.condition.why_not}, {"fragility", record.condition.fragility}}},
          {"triage", record.triage}};
}

}  // namespace papillote::review
