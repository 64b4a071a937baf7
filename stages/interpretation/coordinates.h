// The coordinates that an annotation states, as decimal degrees.
//
// Degrees, minutes and seconds, decimal minutes, decimal degrees, UTM and MGRS. Longitudes from a stated old meridian
// (Paris, Ferro ...) are counted from Greenwich; PROJ holds the meridians and does the projections. No datum shift is
// made. "15.30 S" without a degree sign may be decimal or degrees and minutes, and "O" may be east (Ost) or west
// (Ouest, Oeste): both are left open unless the text settles them.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

// Either may be missing where only one was written or could be settled.
struct Coordinates {
  std::optional<double> lat_deg, lon_deg;

  bool operator==(const Coordinates&) const = default;
};

struct CoordinateReading {
  std::string verbatim;            // the characters of the coordinates, as they stand
  std::size_t begin = 0, end = 0;  // bytes of the text; begin == end when none were found
  std::optional<Coordinates> degrees;
  double uncertainty_m = 0;  // from the precision as written (Georeferencing Best Practices); 0 = not known
  double confidence = 0;
  std::vector<std::pair<Coordinates, double>> alternatives;
  std::vector<std::string> reasons;
};

// Any bytes; time grows in proportion to the length.
[[nodiscard]] CoordinateReading read_coordinates(std::string_view text);

}  // namespace papillote::interpretation
