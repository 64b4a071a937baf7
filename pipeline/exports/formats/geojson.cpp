// A map layer: one feature an envelope, at its place, with the terms of Darwin Core as its properties.
//
// Source: RFC 7946. WGS 84, longitude first, six decimal places (11.2); what lies nowhere has no geometry (3.2).
#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <ostream>

#include "pipeline/exports/darwin_core.h"

namespace papillote::exports::formats {
namespace {

using nlohmann::ordered_json;

// A cell that is a number stands as one.
ordered_json value_of(std::string_view column, const std::string& cell) {
  constexpr std::array<std::string_view, 5> kNumbers{"decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters",
                                                     "minimumElevationInMeters", "maximumElevationInMeters"};
  if (std::find(kNumbers.begin(), kNumbers.end(), column) == kNumbers.end()) return cell;
  const ordered_json number = ordered_json::parse(cell, nullptr, false);
  return number.is_number() ? number : ordered_json(cell);
}

double to_six_places(double degrees) { return std::round(degrees * 1e6) / 1e6; }

ordered_json feature_of(const Dataset& dataset, const std::vector<View>& views) {
  const std::vector<Column>& columns = occurrence_columns();
  const std::vector<std::string> cells = occurrence(dataset, views);
  ordered_json properties = ordered_json::object();
  for (std::size_t k = 0; k < columns.size(); ++k)
    if (!cells[k].empty()) properties[std::string(columns[k].name)] = value_of(columns[k].name, cells[k]);
  const auto latitude = properties.find("decimalLatitude");
  const auto longitude = properties.find("decimalLongitude");
  ordered_json geometry = nullptr;
  if (latitude != properties.end() && longitude != properties.end() && latitude->is_number() && longitude->is_number())
    geometry = {{"type", "Point"},
                {"coordinates", {to_six_places(longitude->get<double>()), to_six_places(latitude->get<double>())}}};
  return {{"type", "Feature"}, {"id", cells.front()}, {"geometry", std::move(geometry)}, {"properties", std::move(properties)}};
}

Result<Done> write(const Rows& rows, const Dataset& dataset, std::ostream& out) {
  out << "{\"type\":\"FeatureCollection\",\"features\":[";
  bool first = true;
  for_each_occurrence(rows, [&](const std::vector<View>& views) {
    out << (first ? "\n" : ",\n") << feature_of(dataset, views).dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    first = false;
  });
  out << "\n]}\n";
  return Done{};
}

}  // namespace

extern const Exporter geojson{"geojson", "One point an envelope for a map (RFC 7946), properties in Darwin Core terms.", write};

}  // namespace papillote::exports::formats
