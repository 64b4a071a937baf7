#include "stages/interpretation/point_radius.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

namespace papillote::interpretation {
namespace {

constexpr double kRadPerDeg = std::numbers::pi / 180;

double all_but_coordinates(const Errors& errors) {
  return errors.radial_m + errors.measuring_m + errors.map_m + errors.datum_m + errors.half_distance_precision_m;
}

PointRadius moved(double lat_deg, double lon_deg, double north_m, double east_m, const Ellipsoid& ellipsoid) {
  // metres per degree at the start latitude, as the published figures have it
  const auto scale = metres_per_degree(lat_deg, ellipsoid);
  PointRadius point;
  point.lat_deg = std::clamp(lat_deg + north_m / scale.latitude, -90.0, 90.0);
  point.lon_deg = lon_deg + (scale.longitude > 1 ? east_m / scale.longitude : 0);
  point.lon_deg = std::remainder(point.lon_deg, 360.0);
  return point;
}

}  // namespace

MetresPerDegree metres_per_degree(double latitude_deg, const Ellipsoid& ellipsoid) {
  const double f = 1 / ellipsoid.inverse_flattening;
  const double e2 = f * (2 - f);
  const double sine = std::sin(latitude_deg * kRadPerDeg);
  const double w2 = 1 - e2 * sine * sine;
  const double meridian_m = ellipsoid.semi_major_m * (1 - e2) / std::pow(w2, 1.5);
  const double vertical_m = ellipsoid.semi_major_m / std::sqrt(w2);
  return {meridian_m * kRadPerDeg, vertical_m * std::cos(latitude_deg * kRadPerDeg) * kRadPerDeg};
}

double coordinate_precision_m(double latitude_deg, double precision_deg, const Ellipsoid& ellipsoid) {
  const auto scale = metres_per_degree(latitude_deg, ellipsoid);
  return std::hypot(scale.latitude * precision_deg, scale.longitude * precision_deg);
}

double half_offset_precision(std::string_view written) {
  if (written.empty() || written.find_first_not_of("0123456789.") != std::string_view::npos) return 0;
  const auto stop = written.find('.');
  if (stop != std::string_view::npos && written.find('.', stop + 1) != std::string_view::npos) return 0;
  const auto fraction = stop == std::string_view::npos ? std::string_view{} : written.substr(stop + 1);
  if (fraction == "5") return 0.25;
  if (fraction == "25" || fraction == "75") return 0.125;
  if (!fraction.empty()) return 0.5 * std::pow(10.0, -static_cast<double>(fraction.size()));
  std::string digits{written.substr(0, stop)};
  digits.erase(0, digits.find_first_not_of('0'));
  if (digits.empty()) return 0.5;
  const auto last = digits.find_last_not_of('0');
  double power = static_cast<double>(digits.size() - 1 - last);
  if (last == 0 && power > 0) --power;  // 10, 30, 2000: the next lower power
  return 0.5 * std::pow(10.0, power);
}

double heading_half_angle_deg(double heading_deg) {
  const double turn = std::fmod(std::fmod(heading_deg, 360.0) + 360.0, 360.0);
  const auto is_multiple = [turn](double step) { return std::abs(std::remainder(turn, step)) < 1e-6; };
  if (is_multiple(90)) return 45;
  if (is_multiple(45)) return 22.5;
  if (is_multiple(22.5)) return 11.25;
  return 0.5;  // degrees written out
}

double square_radial_m(double side_m) { return side_m / std::numbers::sqrt2; }

double on_ground_m(double on_map_mm, double scale_denominator) { return on_map_mm / 1000 * scale_denominator; }

double direction_error_m(double distance_m, double half_angle_deg, double distance_error_m) {
  const double x = distance_m * std::cos(half_angle_deg * kRadPerDeg);
  const double y = distance_m * std::sin(half_angle_deg * kRadPerDeg);
  return std::hypot(distance_m + distance_error_m - x, y);
}

PointRadius at_named_place(double lat_deg, double lon_deg, const Errors& errors) {
  return {lat_deg, lon_deg, all_but_coordinates(errors) + errors.coordinate_precision_m};
}

PointRadius at_distance_only(double lat_deg, double lon_deg, double distance_m, const Errors& errors) {
  return {lat_deg, lon_deg, distance_m + all_but_coordinates(errors) + errors.coordinate_precision_m};
}

PointRadius along_path(double lat_deg, double lon_deg, const Errors& errors) {
  return at_named_place(lat_deg, lon_deg, errors);
}

PointRadius at_orthogonal_offset(double lat_deg, double lon_deg, double north_m, double east_m, const Errors& errors,
                                 const Ellipsoid& ellipsoid) {
  auto point = moved(lat_deg, lon_deg, north_m, east_m, ellipsoid);
  point.uncertainty_m = errors.radial_m + errors.measuring_m + errors.map_m + errors.datum_m +
                        errors.half_distance_precision_m * std::numbers::sqrt2 + errors.coordinate_precision_m;
  return point;
}

PointRadius at_heading(double lat_deg, double lon_deg, double distance, double heading_deg, const Errors& errors,
                       const Ellipsoid& ellipsoid) {
  const double heading = heading_deg * kRadPerDeg;
  auto point = moved(lat_deg, lon_deg, distance * std::cos(heading), distance * std::sin(heading), ellipsoid);
  // The coordinate precision stays outside the direction term: the only order that gives the published totals.
  point.uncertainty_m = direction_error_m(distance, heading_half_angle_deg(heading_deg), all_but_coordinates(errors)) +
                        errors.coordinate_precision_m;
  return point;
}

double distance_m(double lat1_deg, double lon1_deg, double lat2_deg, double lon2_deg) {
  constexpr double kMeanRadius_m = 6371008.8;
  const double lat1 = lat1_deg * kRadPerDeg, lat2 = lat2_deg * kRadPerDeg;
  const double half_lat = std::sin((lat2 - lat1) / 2);
  const double half_lon = std::sin((lon2_deg - lon1_deg) * kRadPerDeg / 2);
  const double h = half_lat * half_lat + std::cos(lat1) * std::cos(lat2) * half_lon * half_lon;
  return 2 * kMeanRadius_m * std::asin(std::min(1.0, std::sqrt(h)));
}

}  // namespace papillote::interpretation
