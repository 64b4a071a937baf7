// A gazetteer in memory, read only: names to places, exactly or as a reader of old hands may have mistaken them.
//
// The file is made once (gazetteer_build.h) and mapped into memory, so opening costs milliseconds and only the
// pages in use take memory. A curator's additions are further files of the same form; a Gazetteer is all of them.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::interpretation {

enum class PlaceKind : std::uint8_t {
  country,
  former_country,
  division1,  // state, province
  division2,  // county, district
  settlement,
  island,
  mountain,
  region,  // historical or natural region, park, valley
  water,   // sea, lake, river
  other,
};
std::string_view name_of(PlaceKind kind);

// Position of a place in the gazetteer; good for as long as the Gazetteer lives.
using PlaceIndex = std::uint32_t;

struct GazetteerPlace {
  std::string_view name;
  std::string_view id;        // "geonames:3039163", "division:US.CA", "country:FR", "former:Ceylon", "myfile:12"
  std::string_view division;  // country code and division codes, "US.CA.057"; former countries: "ID,MY,BN"
  double lat_deg = 0;         // WGS 84
  double lon_deg = 0;
  double radius_m = 0;  // farthest extent from the point, estimated where the source has none
  std::uint32_t population = 0;
  PlaceKind kind = PlaceKind::other;
};

// True when a division code lies in another ("US.CA.057" in "US.CA" and in "US"), or in one of a list of countries.
bool lies_in(std::string_view division, std::string_view outer);

struct NameMatch {
  PlaceIndex place = 0;
  double distance = 0;        // reading_distance of the names, 0 = same key
  bool main_name = false;     // the place's own name, not an alternate one
  bool abbreviation = false;  // a code or an abbreviation: believe it only where one is expected
};

class Gazetteer {
 public:
  // The first file is the base. Failure: kind "no_gazetteer" or "damaged_gazetteer", naming the file.
  static Result<Gazetteer> open(std::span<const std::filesystem::path> files);

  Gazetteer(Gazetteer&&) noexcept;
  Gazetteer& operator=(Gazetteer&&) noexcept;
  ~Gazetteer();

  std::size_t size() const;
  GazetteerPlace place(PlaceIndex index) const;

  // Places that have exactly this key (place_names.h).
  std::vector<NameMatch> named(std::string_view key) const;
  // Places whose key is within `most` of this one, nearest first; keys shorter than 5 letters have none.
  std::vector<NameMatch> named_about(std::string_view key, double most) const;

  // What the licences of the sources ask to be said.
  std::vector<std::string> attributions() const;

 private:
  class File;
  Gazetteer();
  std::vector<File> files_;
};

}  // namespace papillote::interpretation
