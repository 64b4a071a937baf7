// The whole index as JSON: every photograph, envelope, line, claim and finding. The form is described in the README;
// a field with nothing to say is null, and fields may be added but never change their meaning.
#include <cmath>
#include <ostream>

#include <nlohmann/json.hpp>

#include "pipeline/exports/exporter.h"
#include "pipeline/record/codec.h"

namespace papillote::exports::formats {
namespace {

using nlohmann::ordered_json;

double rounded(double value, double per_unit) { return std::round(value * per_unit) / per_unit; }

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}

ordered_json words_or_null(const std::string& words) { return words.empty() ? ordered_json(nullptr) : ordered_json(words); }

template <class Points>
ordered_json points_of(const Points& points) {
  ordered_json out = ordered_json::array();
  for (const Point& p : points) out.push_back({rounded(p.x, 100), rounded(p.y, 100)});
  return out;
}

ordered_json value_of(const std::optional<Claim<std::string>>& claim) { return claim && claim->value ? ordered_json(*claim->value) : ordered_json(nullptr); }

// How sure a claim is and what it rests on: the same for every term.
template <class Value>
void add_grounds(ordered_json& out, const Claim<Value>& claim) {
  out["confidence"] = rounded(claim.confidence, 1000);
  out["reasons"] = claim.reasons;
  ordered_json evidence = ordered_json::array();
  for (const Evidence& e : claim.evidence) evidence.push_back({{"line", e.line}, {"begin", e.begin}, {"end", e.end}});
  out["evidence"] = evidence;
}

ordered_json date_of(const Interpretation& facts) {
  if (!facts.date) return nullptr;
  ordered_json out{{"verbatim", facts.date->verbatim}, {"edtf", or_null(facts.date->value)}};
  ordered_json alternatives = ordered_json::array();
  for (const auto& [value, confidence] : facts.date->alternatives) alternatives.push_back({value, rounded(confidence, 1000)});
  out["alternatives"] = alternatives;
  add_grounds(out, *facts.date);
  return out;
}

ordered_json place_of(const Interpretation& facts) {
  if (!facts.place) return nullptr;
  ordered_json out{{"verbatim", facts.place->verbatim}};
  if (facts.place->value) {
    const Place& place = *facts.place->value;
    out["name"] = place.name;
    out["country"] = words_or_null(place.country);
    out["lat"] = place.lat_deg;
    out["lon"] = place.lon_deg;
    out["uncertainty_m"] = place.uncertainty_m;
    out["gazetteer_id"] = words_or_null(place.gazetteer_id);
  } else {
    for (const char* key : {"name", "country", "lat", "lon", "uncertainty_m", "gazetteer_id"}) out[key] = nullptr;
  }
  add_grounds(out, *facts.place);
  return out;
}

ordered_json coordinates_of(const Interpretation& facts) {
  if (!facts.coordinates || !facts.coordinates->value) return nullptr;
  ordered_json out{{"verbatim", facts.coordinates->verbatim}, {"lat", facts.coordinates->value->lat_deg}, {"lon", facts.coordinates->value->lon_deg}};
  add_grounds(out, *facts.coordinates);
  return out;
}

ordered_json lines_of(const Annotation& annotation) {
  ordered_json lines = ordered_json::array();
  for (const Reading& reading : annotation.lines) {
    ordered_json alternatives = ordered_json::array();
    for (const Alternative& other : reading.alternatives) alternatives.push_back({other.text, rounded(other.confidence, 1000)});
    nlohmann::json kind = reading.line.kind;
    lines.push_back({{"polygon_px", points_of(reading.line.polygon_px)},
                     {"kind", kind.get<std::string>()},
                     {"text", reading.text},
                     {"confidence", rounded(reading.confidence, 1000)},
                     {"alternatives", alternatives},
                     {"reader", words_or_null(reading.reader)}});
  }
  return lines;
}

ordered_json findings_of(const papillote::Condition& condition) {
  ordered_json findings = ordered_json::array();
  for (const Finding& finding : condition.findings)
    findings.push_back({{"kind", finding.kind},
                        {"severity", finding.severity},
                        {"confidence", rounded(finding.confidence, 1000)},
                        {"polygon_px", points_of(finding.polygon_px)},
                        {"size_mm", finding.size_mm ? ordered_json(rounded(*finding.size_mm, 100)) : ordered_json(nullptr)},
                        {"words", words_or_null(finding.words)},
                        {"grown_since", words_or_null(finding.grown_since)}});
  return findings;
}

ordered_json envelope_of(const IndexRecord& record) {
  const Interpretation& facts = record.interpretation;
  ordered_json out;
  out["id"] = record.id;
  out["catalogue_number"] = words_or_null(record.catalogue_number);
  out["slip_doubt"] = words_or_null(record.slip_doubt);
  out["other_side"] = record.other_side ? ordered_json{{"confidence", record.other_side->confidence}, {"words", record.other_side->words}} : ordered_json(nullptr);
  out["polygon_px"] = points_of(record.outline.polygon_px);
  out["crop_px"] = points_of(record.outline.crop.quad_px);
  out["size_mm"] = record.outline.size_mm ? ordered_json{rounded(record.outline.size_mm->x, 100), rounded(record.outline.size_mm->y, 100)} : ordered_json(nullptr);
  out["shape"] = words_or_null(record.outline.shape);
  out["cut_off"] = record.outline.cut_off;
  if (!record.outline.whole_px.empty()) out["whole_px"] = points_of(record.outline.whole_px);
  out["confidence"] = rounded(record.outline.confidence, 1000);
  out["lines"] = lines_of(record.annotation);
  out["text"] = words_or_null(record.annotation.text);
  out["date"] = date_of(facts);
  out["place"] = place_of(facts);
  out["collector"] = value_of(facts.collector);
  out["determiner"] = value_of(facts.determiner);
  out["donor"] = value_of(facts.donor);
  out["previous_collection"] = value_of(facts.previous_collection);
  out["elevation_m"] = facts.elevation && facts.elevation->value
                           ? ordered_json{rounded(facts.elevation->value->min_m, 100), rounded(facts.elevation->value->max_m, 100)}
                           : ordered_json(nullptr);
  out["coordinates"] = coordinates_of(facts);
  out["taxon"] = value_of(facts.taxon);
  out["sex"] = value_of(facts.sex);
  out["type_status"] = value_of(facts.type_status);
  out["number"] = value_of(facts.number);
  out["newspaper_date"] = value_of(facts.newspaper_date);
  out["condition_judged"] = record.condition.judged;
  out["condition_doubt"] = words_or_null(record.condition.why_not);
  out["fragility"] = record.condition.fragility;
  out["findings"] = findings_of(record.condition);
  out["priority"] = {{"level", record.triage.level}, {"score", rounded(record.triage.score, 1000)}, {"reasons", record.triage.reasons}};
  return out;
}

Result<Done> write(const Rows& rows, const Dataset&, std::ostream& out) {
  out << "{\"photographs\":[";
  bool first = true;
  rows([&](const store::IndexedPhotograph& indexed) {
    const PhotoIndex& index = indexed.index;
    const Sheet sheet = index.calibration.sheet.value_or(Sheet{});
    ordered_json photograph;
    photograph["file"] = index.photo.path;
    photograph["sha256"] = words_or_null(index.photo.sha256.hex);
    photograph["tin"] = words_or_null(sheet.tin);
    photograph["sheet"] = words_or_null(sheet.sheet);
    photograph["side"] = words_or_null(sheet.side);
    photograph["px_per_mm"] = index.calibration.px_per_mm ? ordered_json(rounded(*index.calibration.px_per_mm, 10000)) : ordered_json(nullptr);
    photograph["quality"] = {{"verdict", indexed.failure && index.photo.width_px == 0 ? "retake" : index.calibration.quality.verdict},
                             {"reasons", index.calibration.quality.reasons}};
    photograph["missing"] = indexed.missing;
    photograph["failure"] = indexed.failure ? ordered_json{{"kind", indexed.failure->kind}, {"reason", indexed.failure->reason}, {"remedy", indexed.failure->remedy}}
                                            : ordered_json(nullptr);
    photograph["envelopes"] = ordered_json::array();
    for (const IndexRecord& record : index.envelopes) photograph["envelopes"].push_back(envelope_of(record));
    out << (first ? "\n" : ",\n") << photograph.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    first = false;
  });
  out << "\n]}\n";
  return Done{};
}

}  // namespace

extern const Exporter json{"json", "Everything: photographs, envelopes, lines, claims, findings.", write};

}  // namespace papillote::exports::formats
