// Record <-> JSON <-> text. `canonical` text has sorted keys and rounded numbers, so that equal answers are
// equal text and the digest of a text stands for the answer.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

#include "pipeline/record/index_record.h"
#include "pipeline/record/result.h"
#include "pipeline/record/storage.h"

// nlohmann/json 3.11 does not know std::optional: nothing is null.
template <class T>
struct nlohmann::adl_serializer<std::optional<T>> {
  static void to_json(json& j, const std::optional<T>& value) {
    if (value)
      j = *value;
    else
      j = nullptr;
  }
  static void from_json(const json& j, std::optional<T>& value) {
    if (j.is_null())
      value.reset();
    else
      value = j.get<T>();
  }
};

namespace papillote {
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Failure, stage, kind, reason, remedy)
}

// A Result is {"value": ...} or {"failure": {...}}; it has no default, so it is read by value.
template <class T>
struct nlohmann::adl_serializer<papillote::Result<T>> {
  static void to_json(json& j, const papillote::Result<T>& result) {
    if (result.ok())
      j = json{{"value", result.value()}};
    else
      j = json{{"failure", result.failure()}};
  }
  static papillote::Result<T> from_json(const json& j) {
    if (j.contains("failure")) return j.at("failure").get<papillote::Failure>();
    return j.at("value").get<T>();
  }
};

namespace papillote {

inline void to_json(nlohmann::json& j, const Done&) { j = nlohmann::json::object(); }
inline void from_json(const nlohmann::json&, Done&) {}

inline void to_json(nlohmann::json& j, const Point& p) { j = {p.x, p.y}; }
inline void from_json(const nlohmann::json& j, Point& p) { p = {j.at(0).get<double>(), j.at(1).get<double>()}; }
inline void to_json(nlohmann::json& j, const Digest& d) { j = d.hex; }
inline void from_json(const nlohmann::json& j, Digest& d) { d.hex = j.get<std::string>(); }

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Photo, path, sha256, format, width_px, height_px, taken, camera)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(SeenCode, text, symbology, quad_px)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Sheet, tin, sheet, side, more)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Quality, verdict, reasons, sharpness, clipped_light, clipped_dark)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Calibration, px_per_mm, scale_source, mm_from_px, card_px, gain_rgb, grey_error, sheet,
                                   label_px, slips, quality, confidence)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Crop, quad_px, width_px, height_px)
// Collections of earlier versions have no whole_px.
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(EnvelopeOutline, number, polygon_px, crop, shape, size_mm, cut_off, confidence, whole_px)

NLOHMANN_JSON_SERIALIZE_ENUM(LineKind, {{LineKind::handwritten, "handwritten"},
                                        {LineKind::typed, "typed"},
                                        {LineKind::printed, "printed"},
                                        {LineKind::stamped, "stamped"},
                                        {LineKind::newsprint, "newsprint"}})
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(TextLine, polygon_px, quad_px, kind, kind_confidence, confidence)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(LineLayout, lines, paper)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Alternative, text, confidence)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Reading, line, text, confidence, alternatives, character_confidence, reader)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Annotation, lines, turned_deg, text)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Evidence, line, begin, end)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Place, name, gazetteer_id, country, lat_deg, lon_deg, uncertainty_m)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(GeoPoint, lat_deg, lon_deg, uncertainty_m)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(ElevationRange, min_m, max_m)

template <class Value>
void to_json(nlohmann::json& j, const Claim<Value>& c) {
  j = {{"verbatim", c.verbatim},         {"value", c.value},     {"confidence", c.confidence},
       {"alternatives", c.alternatives}, {"reasons", c.reasons}, {"evidence", c.evidence}};
}
template <class Value>
void from_json(const nlohmann::json& j, Claim<Value>& c) {
  j.at("verbatim").get_to(c.verbatim);
  j.at("value").get_to(c.value);
  j.at("confidence").get_to(c.confidence);
  j.at("alternatives").get_to(c.alternatives);
  j.at("reasons").get_to(c.reasons);
  j.at("evidence").get_to(c.evidence);
}
// Collections of earlier versions know of the persons the collector alone.
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Interpretation, date, place, coordinates, elevation, collector, determiner, donor,
                                                previous_collection, taxon, sex, type_status, number, newspaper_date)
// Collections of earlier versions have no grown_since.
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Finding, kind, severity, confidence, polygon_px, size_mm, words, grown_since)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Condition, judged, why_not, findings, fragility)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(StorageSign, sign, measure, words)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Storage, signs, remarks)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Triage, level, score, reasons)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(OtherSide, confidence, words)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Portrait, width, height, marks, paper, filled)
// Collections of earlier versions have no other_side and no portrait.
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(IndexRecord, id, catalogue_number, slip_doubt, other_side, outline, annotation, interpretation,
                                                alone, condition, triage, portrait)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(PhotoIndex, photo, calibration, envelopes)

// Sorted keys, numbers rounded to six decimals, no blanks; invalid UTF-8 is replaced, never thrown at.
[[nodiscard]] std::string canonical(const nlohmann::json& value);

}  // namespace papillote
