#include "stages/calibration/colour_difference.h"

#include <cmath>
#include <numbers>

namespace papillote::calibration {
namespace {

double rad(double deg) { return deg * std::numbers::pi / 180; }

double hue_deg(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a) * 180 / std::numbers::pi;
  return h < 0 ? h + 360 : h;
}

}  // namespace

Lab lab_of_linear_rgb(const std::array<double, 3>& rgb) {
  const double x = 0.4360747 * rgb[0] + 0.3850649 * rgb[1] + 0.1430804 * rgb[2];
  const double y = 0.2225045 * rgb[0] + 0.7168786 * rgb[1] + 0.0606169 * rgb[2];
  const double z = 0.0139322 * rgb[0] + 0.0971045 * rgb[1] + 0.7141733 * rgb[2];
  const auto f = [](double t) { return t > 216.0 / 24389 ? std::cbrt(t) : (t * 24389 / 27 + 16) / 116; };
  const double fx = f(x / 0.9642200);  // white: the sum of each row
  const double fy = f(y);
  const double fz = f(z / 0.8252100);
  return {116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

double ciede2000(const Lab& one, const Lab& other, LightnessWeight weight) {
  const double mean_chroma = (std::hypot(one.a, one.b) + std::hypot(other.a, other.b)) / 2;
  const auto seventh = [](double c) { return std::sqrt(std::pow(c, 7) / (std::pow(c, 7) + std::pow(25.0, 7))); };
  const double g = 0.5 * (1 - seventh(mean_chroma));
  const double a1 = (1 + g) * one.a;
  const double a2 = (1 + g) * other.a;
  const double c1 = std::hypot(a1, one.b);
  const double c2 = std::hypot(a2, other.b);
  const double h1 = hue_deg(a1, one.b);
  const double h2 = hue_deg(a2, other.b);
  double dh = 0;
  double h_mean = h1 + h2;
  if (c1 * c2 != 0) {
    dh = h2 - h1;
    if (dh > 180) dh -= 360;
    if (dh < -180) dh += 360;
    if (std::abs(h1 - h2) <= 180)
      h_mean = (h1 + h2) / 2;
    else
      h_mean = h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
  }
  const double d_lightness = other.lightness - one.lightness;
  const double d_chroma = c2 - c1;
  const double d_hue = 2 * std::sqrt(c1 * c2) * std::sin(rad(dh / 2));
  const double l_mean = (one.lightness + other.lightness) / 2;
  const double c_mean = (c1 + c2) / 2;
  const double t = 1 - 0.17 * std::cos(rad(h_mean - 30)) + 0.24 * std::cos(rad(2 * h_mean)) + 0.32 * std::cos(rad(3 * h_mean + 6)) -
                   0.20 * std::cos(rad(4 * h_mean - 63));
  const double turn = 30 * std::exp(-std::pow((h_mean - 275) / 25, 2));
  const double from_middle = (l_mean - 50) * (l_mean - 50);
  const double s_l = weight == LightnessWeight::one ? 1 : 1 + 0.015 * from_middle / std::sqrt(20 + from_middle);
  const double s_c = 1 + 0.045 * c_mean;
  const double s_h = 1 + 0.015 * c_mean * t;
  const double r_t = -std::sin(rad(2 * turn)) * 2 * seventh(c_mean);
  const double l = d_lightness / s_l;
  const double c = d_chroma / s_c;
  const double h = d_hue / s_h;
  return std::sqrt(l * l + c * c + h * h + r_t * c * h);
}

}  // namespace papillote::calibration
