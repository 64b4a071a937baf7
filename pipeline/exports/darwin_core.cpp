#include "pipeline/exports/darwin_core.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>

#include "pipeline/exports/uri.h"
#include "pipeline/record/uuid.h"

namespace papillote::exports {
namespace {

// Drawn at random for this project.
constexpr std::string_view kNameSpace = "b1f6f1b6-5c0e-4d0a-9a43-6f2a5a0c7e51";

std::string identifier(const std::string& name) { return "urn:uuid:" + uuid_v5(kNameSpace, name); }

std::string photograph_id(const Photo& photo) { return identifier("photograph " + photo.sha256.hex); }

std::string number(double value, int decimals) {
  std::string text = fmt::format("{:.{}f}", value, decimals);
  if (text.find('.') != std::string::npos) text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) text.pop_back();
  return text == "-0" ? "0" : text;
}

// The claims of all views, the surest of each term.
Interpretation surest(const std::vector<View>& views) {
  Interpretation all;
  const auto keep = [](auto& kept, const auto& claim) {
    if (!claim) return;
    const bool better = !kept || (claim->value && !kept->value) || (claim->value.has_value() == kept->value.has_value() && claim->confidence > kept->confidence);
    if (better) kept = claim;
  };
  for (const View& view : views) {
    const Interpretation& facts = view.record.interpretation;
    keep(all.date, facts.date);
    keep(all.place, facts.place);
    keep(all.coordinates, facts.coordinates);
    keep(all.elevation, facts.elevation);
    keep(all.collector, facts.collector);
    keep(all.determiner, facts.determiner);
    keep(all.donor, facts.donor);
    keep(all.previous_collection, facts.previous_collection);
    keep(all.taxon, facts.taxon);
    keep(all.sex, facts.sex);
    keep(all.type_status, facts.type_status);
    keep(all.number, facts.number);
  }
  return all;
}

std::string value_of(const std::optional<Claim<std::string>>& claim) { return claim && claim->value ? *claim->value : ""; }

template <class Value>
std::string verbatim_of(const std::optional<Claim<Value>>& claim) {
  return claim ? claim->verbatim : "";
}

// Text of the front before that of the back, each different text once.
std::string label_of(const std::vector<View>& views) {
  std::vector<const View*> order;
  for (const View& view : views) order.push_back(&view);
  std::stable_sort(order.begin(), order.end(), [](const View* a, const View* b) { return (a->sheet.side == "back") < (b->sheet.side == "back"); });
  std::vector<std::string> texts;
  for (const View* view : order)
    if (const std::string& text = view->record.annotation.text; !text.empty() && std::find(texts.begin(), texts.end(), text) == texts.end())
      texts.push_back(text);
  return fmt::format("{}", fmt::join(texts, "\n"));
}

struct Name {
  std::string scientific;
  std::string qualifier;  // with what it applies to
  std::string rank;
};

// "Papilio cf. machaon" -> "Papilio" and "cf. machaon".
Name name_of(const std::string& taxon) {
  if (taxon.empty()) return {"Insecta", "", "class"};
  constexpr std::array<std::string_view, 12> kQualifiers{"cf.", "cf", "aff.", "aff", "nr.", "nr", "near", "prox.", "sp.", "sp", "spp.", "?"};
  std::vector<std::string> sure;
  std::vector<std::string> open;
  for (std::size_t at = 0; at < taxon.size();) {
    const std::size_t end = std::min(taxon.find(' ', at), taxon.size());
    std::string word = taxon.substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    const bool qualifies = std::find(kQualifiers.begin(), kQualifiers.end(), word) != kQualifiers.end() || word.ends_with('?');
    (open.empty() && !qualifies ? sure : open).push_back(std::move(word));
  }
  if (sure.empty()) return {"Insecta", fmt::format("{}", fmt::join(open, " ")), "class"};
  return {fmt::format("{}", fmt::join(sure, " ")), fmt::format("{}", fmt::join(open, " ")), ""};
}

// Stated counts stay in the words of the label; the term takes one sex.
std::string sex_of(const std::string& sexes) {
  const bool female = sexes.find("female") != std::string::npos;
  std::string others = sexes;
  for (std::size_t at = others.find("female"); at != std::string::npos; at = others.find("female")) others.erase(at, 6);
  const bool male = others.find("male") != std::string::npos;
  if (male && female) return "male | female";
  return male ? "male" : female ? "female" : "";
}

struct Said {
  nlohmann::ordered_json machine = nlohmann::ordered_json::object();  // confidence and other values, by term
  std::vector<std::string> by_person;
  bool anything_by_machine = false;
};

template <class Value>
void note(Said& said, const char* term, const std::optional<Claim<Value>>& claim) {
  if (!claim || !claim->value) return;
  if (store::is_settled(claim->reasons)) {
    said.by_person.emplace_back(term);
    return;
  }
  said.anything_by_machine = true;
  nlohmann::ordered_json grounds{{"confidence", std::round(claim->confidence * 1000) / 1000}};
  if constexpr (std::is_same_v<Value, std::string>) {
    if (!claim->alternatives.empty()) {
      auto others = nlohmann::ordered_json::array();
      for (const auto& [value, confidence] : claim->alternatives) others.push_back({value, std::round(confidence * 1000) / 1000});
      grounds["alternatives"] = others;
    }
  }
  said.machine[term] = grounds;
}

Said said_of(const Interpretation& facts) {
  Said said;
  note(said, "date", facts.date);
  note(said, "place", facts.place);
  note(said, "coordinates", facts.coordinates);
  note(said, "elevation", facts.elevation);
  note(said, "collector", facts.collector);
  note(said, "determiner", facts.determiner);
  note(said, "donor", facts.donor);
  note(said, "previous collection", facts.previous_collection);
  note(said, "taxon", facts.taxon);
  note(said, "sex", facts.sex);
  note(said, "type status", facts.type_status);
  note(said, "number", facts.number);
  if (facts.date && facts.date->value && said.machine.contains("date")) said.machine["date"]["edtf"] = *facts.date->value;
  return said;
}

std::string remarks_of(const Said& said, const std::vector<View>& views) {
  std::vector<std::string> sentences;
  if (said.by_person.empty())
    sentences.emplace_back("Read and interpreted by machine from photographs of the paper envelope; not checked by a person.");
  else
    sentences.push_back(fmt::format("Read and interpreted by machine from photographs of the paper envelope; settled by a person: {}.",
                                    fmt::join(said.by_person, ", ")));
  std::map<std::string, int> findings;
  for (const View& view : views)
    for (const Finding& finding : view.record.condition.findings)
      if (finding.sure()) findings[finding.kind] = std::max(findings[finding.kind], finding.severity);
  std::vector<std::string> seen;
  for (const auto& [kind, severity] : findings) {
    std::string words = kind;
    std::replace(words.begin(), words.end(), '_', ' ');
    constexpr std::array<const char*, 5> kDegrees{"", "trace", "slight", "serious", "severe"};
    seen.push_back(fmt::format("{} ({})", words, kDegrees[static_cast<std::size_t>(std::clamp(severity, 0, 4))]));
  }
  if (!seen.empty()) sentences.push_back(fmt::format("Condition as seen by machine: {}.", fmt::join(seen, ", ")));
  return fmt::format("{}", fmt::join(sentences, " "));
}

struct Georeference {
  double lat_deg = 0;
  double lon_deg = 0;
  double uncertainty_m = 0;
  bool settled = false;
  bool written = false;  // coordinates stand on the envelope
};

std::optional<Georeference> georeference_of(const Interpretation& facts) {
  const bool place = facts.place && facts.place->value;
  const bool place_settled = place && store::is_settled(facts.place->reasons);
  if (facts.coordinates && facts.coordinates->value && !place_settled) {
    const GeoPoint& at = *facts.coordinates->value;
    return Georeference{at.lat_deg, at.lon_deg, at.uncertainty_m, store::is_settled(facts.coordinates->reasons), true};
  }
  if (!place) return std::nullopt;
  const Place& at = *facts.place->value;
  return Georeference{at.lat_deg, at.lon_deg, at.uncertainty_m, place_settled, false};
}

bool all_digits(std::string_view text) { return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; }); }

// One date of an interval; nothing where it cannot be said.
std::optional<std::string> iso_of_date(std::string_view edtf) {
  if (edtf.ends_with('?')) edtf.remove_suffix(1);
  if (edtf.size() != 4 && edtf.size() != 7 && edtf.size() != 10) return std::nullopt;
  std::string date(edtf);
  if (date.size() == 10 && date.ends_with("-XX")) date.resize(7);
  if (date.size() == 7 && date.ends_with("-XX")) date.resize(4);
  if (date.size() > 4) {
    if (date[4] != '-' || !all_digits(std::string_view(date).substr(0, 4)) || !all_digits(std::string_view(date).substr(5, 2))) return std::nullopt;
    if (const int month = std::stoi(date.substr(5, 2)); month < 1 || month > 12) return std::nullopt;
    if (date.size() == 10 && (date[7] != '-' || !all_digits(std::string_view(date).substr(8)))) return std::nullopt;
    return date;
  }
  const std::size_t known = date.find('X');
  if (known == std::string::npos) return all_digits(date) ? std::optional(date) : std::nullopt;
  if (known < 2 || !all_digits(std::string_view(date).substr(0, known)) || date.find_first_not_of('X', known) != std::string::npos) return std::nullopt;
  std::string first = date;
  std::string last = date;
  std::replace(first.begin(), first.end(), 'X', '0');
  std::replace(last.begin(), last.end(), 'X', '9');
  return first + "/" + last;
}

std::string rights_of(const Dataset& dataset) { return dataset.licence.empty() ? "not stated" : dataset.licence; }

}  // namespace

#define DWC "http://rs.tdwg.org/dwc/terms/"
#define DCTERMS "http://purl.org/dc/terms/"
#define DC "http://purl.org/dc/elements/1.1/"
#define AC "http://rs.tdwg.org/ac/terms/"
#define EXIF "http://ns.adobe.com/exif/1.0/"

const std::vector<Column>& occurrence_columns() {
  static const std::vector<Column> columns{{"occurrenceID", DWC "occurrenceID"},
                                           {"basisOfRecord", DWC "basisOfRecord"},
                                           {"institutionCode", DWC "institutionCode"},
                                           {"collectionCode", DWC "collectionCode"},
                                           {"catalogNumber", DWC "catalogNumber"},
                                           {"recordNumber", DWC "recordNumber"},
                                           {"recordedBy", DWC "recordedBy"},
                                           {"identifiedBy", DWC "identifiedBy"},
                                           {"verbatimLabel", DWC "verbatimLabel"},
                                           {"eventDate", DWC "eventDate"},
                                           {"verbatimEventDate", DWC "verbatimEventDate"},
                                           {"countryCode", DWC "countryCode"},
                                           {"locality", DWC "locality"},
                                           {"verbatimLocality", DWC "verbatimLocality"},
                                           {"minimumElevationInMeters", DWC "minimumElevationInMeters"},
                                           {"maximumElevationInMeters", DWC "maximumElevationInMeters"},
                                           {"verbatimElevation", DWC "verbatimElevation"},
                                           {"decimalLatitude", DWC "decimalLatitude"},
                                           {"decimalLongitude", DWC "decimalLongitude"},
                                           {"geodeticDatum", DWC "geodeticDatum"},
                                           {"coordinateUncertaintyInMeters", DWC "coordinateUncertaintyInMeters"},
                                           {"verbatimCoordinates", DWC "verbatimCoordinates"},
                                           {"georeferenceProtocol", DWC "georeferenceProtocol"},
                                           {"georeferenceVerificationStatus", DWC "georeferenceVerificationStatus"},
                                           {"georeferenceRemarks", DWC "georeferenceRemarks"},
                                           {"kingdom", DWC "kingdom"},
                                           {"class", DWC "class"},
                                           {"scientificName", DWC "scientificName"},
                                           {"taxonRank", DWC "taxonRank"},
                                           {"identificationQualifier", DWC "identificationQualifier"},
                                           {"verbatimIdentification", DWC "verbatimIdentification"},
                                           {"sex", DWC "sex"},
                                           {"typeStatus", DWC "typeStatus"},
                                           {"preparations", DWC "preparations"},
                                           {"occurrenceRemarks", DWC "occurrenceRemarks"},
                                           {"dynamicProperties", DWC "dynamicProperties"}};
  return columns;
}

const std::vector<Column>& media_columns() {
  static const std::vector<Column> columns{{"occurrenceID", DWC "occurrenceID"},
                                           {"identifier", DCTERMS "identifier"},
                                           {"type", DC "type"},
                                           {"title", DCTERMS "title"},
                                           {"format", DC "format"},
                                           {"accessURI", AC "accessURI"},
                                           {"rights", DC "rights"},
                                           {"metadataLanguageLiteral", AC "metadataLanguageLiteral"},
                                           {"PixelXDimension", EXIF "PixelXDimension"},
                                           {"PixelYDimension", EXIF "PixelYDimension"},
                                           {"hashFunction", AC "hashFunction"},
                                           {"hashValue", AC "hashValue"},
                                           {"digitizationDate", AC "digitizationDate"},
                                           {"captureDevice", AC "captureDevice"},
                                           {"associatedSpecimenReference", AC "associatedSpecimenReference"},
                                           {"IDofContainingCollection", AC "IDofContainingCollection"},
                                           {"hasROI", AC "hasROI"},
                                           {"isROIOf", AC "isROIOf"},
                                           {"xFrac", AC "xFrac"},
                                           {"yFrac", AC "yFrac"},
                                           {"widthFrac", AC "widthFrac"},
                                           {"heightFrac", AC "heightFrac"}};
  return columns;
}

std::string occurrence_id(const Dataset& dataset, const std::string& envelope) {
  return identifier(fmt::format("envelope {}\n{}\n{}", dataset.institution_code, dataset.collection_code, envelope));
}

std::string iso_of_edtf(std::string_view edtf) {
  const std::size_t slash = edtf.find('/');
  if (slash == std::string_view::npos) return iso_of_date(edtf).value_or("");
  const auto first = iso_of_date(edtf.substr(0, slash));
  const auto last = iso_of_date(edtf.substr(slash + 1));
  if (!first || !last) return "";
  // An interval of decades runs from the first year of the first to the last year of the last.
  return first->substr(0, first->find('/')) + "/" + last->substr(last->find('/') == std::string::npos ? 0 : last->find('/') + 1);
}

std::vector<std::string> occurrence(const Dataset& dataset, const std::vector<View>& views) {
  const Interpretation facts = surest(views);
  const Said said = said_of(facts);
  const Name name = name_of(value_of(facts.taxon));
  const auto at = georeference_of(facts);
  const Place* place = facts.place && facts.place->value ? &*facts.place->value : nullptr;
  const ElevationRange* height = facts.elevation && facts.elevation->value ? &*facts.elevation->value : nullptr;
  std::string catalogue_number;
  for (const View& view : views)
    if (catalogue_number.empty()) catalogue_number = view.record.catalogue_number;
  std::string why_there;
  if (at && !at->settled) why_there = fmt::format("{}", fmt::join(at->written ? facts.coordinates->reasons : facts.place->reasons, "; "));
  return {occurrence_id(dataset, views.front().record.id),
          "PreservedSpecimen",
          dataset.institution_code,
          dataset.collection_code,
          catalogue_number.empty() ? views.front().record.id : catalogue_number,
          value_of(facts.number),
          value_of(facts.collector),
          value_of(facts.determiner),
          label_of(views),
          facts.date && facts.date->value ? iso_of_edtf(*facts.date->value) : "",
          verbatim_of(facts.date),
          place ? place->country : "",
          place ? place->name : "",
          verbatim_of(facts.place),
          height ? number(height->min_m, 1) : "",
          height ? number(height->max_m, 1) : "",
          verbatim_of(facts.elevation),
          at ? number(at->lat_deg, 6) : "",
          at ? number(at->lon_deg, 6) : "",
          at ? "EPSG:4326" : "",
          at && at->uncertainty_m > 0 ? number(std::ceil(at->uncertainty_m), 0) : "",
          verbatim_of(facts.coordinates),
          at ? (at->written ? "coordinates as written, uncertainty from their precision" : "point-radius method from a gazetteer") : "",
          at ? (at->settled ? "verified by data custodian" : "requires verification") : "requires georeference",
          why_there,
          "Animalia",
          "Insecta",
          name.scientific,
          name.rank,
          name.qualifier,
          verbatim_of(facts.taxon),
          sex_of(value_of(facts.sex)),
          value_of(facts.type_status),
          "papered, unspread",
          remarks_of(said, views),
          said.anything_by_machine ? nlohmann::ordered_json{{"machineInterpretation", said.machine}}.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
                                   : ""};
}

std::vector<std::vector<std::string>> media(const Dataset& dataset, const View& view) {
  const Photo& photo = view.photo;
  const std::string occurrence = occurrence_id(dataset, view.record.id);
  const std::string whole = photograph_id(photo);
  const std::string region = identifier(fmt::format("region {}\n{}", photo.sha256.hex, view.record.id));
  const std::string tin = view.sheet.tin.empty() ? "" : "tin " + view.sheet.tin;
  std::vector<std::vector<std::string>> rows;
  rows.push_back({occurrence, whole, "StillImage", fmt::format("Photograph of a sheet of papered specimens: {}", photo.path),
                  photo.format.empty() ? "" : "image/" + photo.format, uri_of(dataset.media_uri, photo.path), rights_of(dataset), dataset.language,
                  std::to_string(photo.width_px), std::to_string(photo.height_px), photo.sha256.hex.empty() ? "" : "SHA-256", photo.sha256.hex,
                  photo.taken, photo.camera, occurrence, tin, region, "", "", "", "", ""});
  const Polygon& outline = view.record.outline.polygon_px;
  if (photo.width_px <= 0 || photo.height_px <= 0 || outline.empty()) {
    rows.front()[16].clear();
    return rows;
  }
  const auto share = [](double px, int of) { return std::clamp(px / of, 0.0, 1.0); };
  double left = 1, right = 0, top = 1, bottom = 0;
  for (const Point& p : outline) {
    left = std::min(left, share(p.x, photo.width_px)), right = std::max(right, share(p.x, photo.width_px));
    top = std::min(top, share(p.y, photo.height_px)), bottom = std::max(bottom, share(p.y, photo.height_px));
  }
  // Rounded down on the left and up on the right, so that the envelope lies in the region and the region in the picture.
  constexpr double kSteps = 1e6;
  left = std::floor(left * kSteps), top = std::floor(top * kSteps);
  right = std::ceil(right * kSteps), bottom = std::ceil(bottom * kSteps);
  const auto fraction = [&](double steps) { return number(steps / kSteps, 6); };
  rows.push_back({occurrence, region, "StillImage", fmt::format("Envelope {} in {}", view.record.id, photo.path), "", "", rights_of(dataset), dataset.language, "", "",
                  "", "", photo.taken, photo.camera, occurrence, tin, "", whole, fraction(left), fraction(top), fraction(right - left), fraction(bottom - top)});
  return rows;
}

void for_each_occurrence(const Rows& rows, const std::function<void(const std::vector<View>&)>& take) {
  std::map<std::string, int> views;  // still to come, of envelopes that several photographs show
  rows([&](const store::IndexedPhotograph& photograph) {
    for (const IndexRecord& record : photograph.index.envelopes) ++views[record.id];
  });
  std::map<std::string, std::vector<View>> waiting;
  rows([&](const store::IndexedPhotograph& photograph) {
    const Sheet sheet = photograph.index.calibration.sheet.value_or(Sheet{});
    for (const IndexRecord& record : photograph.index.envelopes) {
      auto& seen = waiting[record.id];
      seen.push_back({photograph.index.photo, sheet, record});
      if (--views[record.id] > 0) continue;
      take(seen);
      waiting.erase(record.id);
    }
  });
}

}  // namespace papillote::exports
