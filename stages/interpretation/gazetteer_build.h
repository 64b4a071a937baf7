// Making gazetteer files: the base from published tables, and a curator's additions.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "pipeline/record/result.h"
#include "stages/interpretation/gazetteer.h"

namespace papillote::interpretation {

struct GazetteerEntry {
  std::string name;
  std::string id;
  std::string division;  // "US.CA.057"; several countries: "ID,MY,BN"
  double lat_deg = 0;
  double lon_deg = 0;
  double radius_m = 0;  // 0 = not known, estimated from kind and population
  std::uint32_t population = 0;
  PlaceKind kind = PlaceKind::other;
  std::vector<std::string> main_names;     // spellings that are the place's own name, besides `name`
  std::vector<std::string> other_names;    // alternate names; those not in Latin script are left out
  std::vector<std::string> abbreviations;  // codes such as "CA" or "Calif."
};

// Writes one gazetteer file, atomically. `attribution` is what the licences of the sources ask to be said.
Result<Done> write_gazetteer(const std::vector<GazetteerEntry>& entries, const std::string& attribution,
                             const std::filesystem::path& file);

// What the base gazetteer is made of.
struct BaseSources {
  std::filesystem::path cities;         // GeoNames table, 19 tab-separated columns without a header
  std::filesystem::path divisions1;     // JSON list of {"code": "US.CA", "name": "California"}
  std::filesystem::path divisions2;     // the same, one level down
  std::filesystem::path iso_codes;      // folder of iso_3166-1.json, iso_3166-2.json, iso_3166-3.json
  std::filesystem::path subdivisions;   // folder of CLDR subdivision names, <language>.xml
  std::filesystem::path former_names;   // former_names.tsv
  std::filesystem::path abbreviations;  // division_abbreviations.tsv
};
Result<Done> build_base_gazetteer(const BaseSources& sources, const std::filesystem::path& file);

struct Added {
  std::size_t places = 0;
  std::size_t left_out = 0;  // rows without a name or a position, and divisions that the base has
};
// Adds a curator's table: a GeoNames dump as published (19 columns, no header), or any tab-separated table with a
// header that has at least name, lat and lon. Known columns: name, alternates, country_code(s), lat, lon, radius_km,
// population, kind or feature_class, admin1, admin2, current_name, id or geonameid. `base` gives the codes of
// divisions that the table names in words. A dump of more than 2 million rows makes several files: FILE-2.bin, ...
Result<Added> build_added_gazetteer(const std::filesystem::path& table, const Gazetteer* base,
                                    const std::filesystem::path& file);

}  // namespace papillote::interpretation
