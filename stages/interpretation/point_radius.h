// Where a locality description puts a point, and how far from it the truth may lie: the point-radius method.
//
// Chapman & Wieczorek, Georeferencing Best Practices (2020), with the formulas of the georeferencing guidelines
// behind Wieczorek, Guo & Hijmans (2004), Int. J. Geogr. Inf. Sci. 18: 745-767. All lengths in metres, all angles
// in degrees. Uncertainties are radii of a circle around the point that holds the whole described place.
#pragma once

#include <string_view>

namespace papillote::interpretation {

struct Ellipsoid {
  double semi_major_m;
  double inverse_flattening;
};
inline constexpr Ellipsoid kWgs84{6378137.0, 298.257223563};
inline constexpr Ellipsoid kClarke1866{6378206.4, 294.978698214};  // of the North American Datum of 1927

inline constexpr double kMetresPerMile = 1609.344;
inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kWorstDatumError_m = 5359;  // an unknown datum, the worst case in the world

struct MetresPerDegree {
  double latitude;
  double longitude;
};
MetresPerDegree metres_per_degree(double latitude_deg, const Ellipsoid& ellipsoid = kWgs84);

// Length of the diagonal of the cell that coordinates of this precision may mean.
double coordinate_precision_m(double latitude_deg, double precision_deg, const Ellipsoid& ellipsoid = kWgs84);

// Half of the precision that the digits of a distance imply, in the distance's own unit: "10.5" -> 0.25,
// "10" -> 0.5, "140" -> 5. 0 for what is not a plain decimal number.
double half_offset_precision(std::string_view written_distance);

// How far a stated heading may be from the true one: 45 for N E S W, 22.5 for NE..., 11.25 for NNE...
double heading_half_angle_deg(double heading_deg);

// Half the diagonal of a square.
double square_radial_m(double side_m);

// Width on the ground of a length on a map.
double on_ground_m(double on_map_mm, double scale_denominator);

// What besides the offset itself adds to the uncertainty.
struct Errors {
  double radial_m = 0;     // extent of the named place
  double measuring_m = 0;  // of measuring on the map
  double map_m = 0;        // of the map itself
  double datum_m = 0;
  double half_distance_precision_m = 0;
  double coordinate_precision_m = 0;
};

struct PointRadius {
  double lat_deg = 0;
  double lon_deg = 0;
  double uncertainty_m = 0;
};

// The place itself.
PointRadius at_named_place(double lat_deg, double lon_deg, const Errors& errors);
// A distance without a direction: the point stays, the distance is doubt.
PointRadius at_distance_only(double lat_deg, double lon_deg, double distance_m, const Errors& errors);
// A point measured along a path such as a road.
PointRadius along_path(double lat_deg, double lon_deg, const Errors& errors);
// So far north and so far east (negative: south, west).
PointRadius at_orthogonal_offset(double lat_deg, double lon_deg, double north_m, double east_m, const Errors& errors,
                                 const Ellipsoid& ellipsoid = kWgs84);
// A distance at a heading, clockwise from north.
PointRadius at_heading(double lat_deg, double lon_deg, double distance_m, double heading_deg, const Errors& errors,
                       const Ellipsoid& ellipsoid = kWgs84);

// Spread of a distance at a heading that may be off by the half angle, plus an error along it.
double direction_error_m(double distance_m, double half_angle_deg, double distance_error_m);

// Great-circle distance on a sphere of the mean radius: good to 0.5 %, for comparing places.
double distance_m(double lat1_deg, double lon1_deg, double lat2_deg, double lon2_deg);

}  // namespace papillote::interpretation
