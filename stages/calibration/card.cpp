#include "stages/calibration/card.h"

#include <algorithm>
#include <cmath>

#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include "stages/calibration/linear_light.h"

namespace papillote::calibration {
namespace {

// Layout of the card in mm: size, upper left corners of the markers by id, patches.
constexpr double kCardWidth_mm = 110;
constexpr double kCardHeight_mm = 60;
constexpr double kMarkerSide_mm = 15;
constexpr std::array<Point, 4> kMarkerAt_mm{{{2, 2}, {93, 2}, {93, 43}, {2, 43}}};
constexpr double kPatchWidth_mm = 7.6;
constexpr double kPatchHeight_mm = 11.5;
constexpr std::array<std::array<int, 3>, kGreys> kGreys_rgb{
    {{243, 243, 242}, {200, 200, 200}, {160, 160, 160}, {122, 122, 121}, {85, 85, 85}, {52, 52, 52}}};

Point patch_at_mm(std::size_t k) { return {7 + 8 * static_cast<double>(k), 29.5}; }

std::array<cv::Point2d, 4> marker_corners_mm(int id) {
  const auto [x, y] = kMarkerAt_mm[static_cast<std::size_t>(id)];
  const double s = kMarkerSide_mm;
  return {{{x, y}, {x + s, y}, {x + s, y + s}, {x, y + s}}};
}

cv::Point2d applied(const cv::Matx33d& h, const cv::Point2d& p) {
  const cv::Vec3d q = h * cv::Vec3d(p.x, p.y, 1);
  return {q[0] / q[2], q[1] / q[2]};
}

// px_from_mm that keeps angles (least squares, from one marker).
cv::Matx33d similarity(const Marker& marker) {
  const auto mm = marker_corners_mm(marker.id);
  cv::Point2d mean_mm;
  cv::Point2d mean_px;
  for (std::size_t i = 0; i < 4; ++i)
    mean_mm += mm[i] / 4, mean_px += cv::Point2d(marker.corners_px[i].x, marker.corners_px[i].y) / 4;
  double a = 0;
  double b = 0;
  double squares = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d m = mm[i] - mean_mm;
    const cv::Point2d p = cv::Point2d(marker.corners_px[i].x, marker.corners_px[i].y) - mean_px;
    a += m.dot(p), b += m.cross(p), squares += m.dot(m);
  }
  a /= squares, b /= squares;
  return {a, -b, mean_px.x - a * mean_mm.x + b * mean_mm.y, b, a, mean_px.y - b * mean_mm.x - a * mean_mm.y, 0, 0, 1};
}

// Those markers, one of each id, that lie where `seed` says, within what tilt may do.
std::vector<Marker> agreeing(const std::vector<Marker>& markers, const Marker& seed) {
  const cv::Matx33d px_from_mm = similarity(seed);
  const double px_per_mm = std::hypot(px_from_mm(0, 0), px_from_mm(1, 0));
  std::vector<Marker> set{seed};
  for (const Marker& m : markers) {
    if (std::any_of(set.begin(), set.end(), [&](const Marker& s) { return s.id == m.id; })) continue;
    const cv::Point2d expected = applied(px_from_mm, marker_corners_mm(m.id)[0]);
    const cv::Point2d there(m.corners_px[0].x, m.corners_px[0].y);
    if (cv::norm(there - expected) < 25 * px_per_mm) set.push_back(m);
  }
  return set;
}

double lightness(double y) { return y > 216.0 / 24389 ? 116 * std::cbrt(y) - 16 : y * 24389 / 27; }             // CIE 1976 L*
double luminance(const cv::Vec3d& rgb) { return 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]; }

}  // namespace

Quad marker_mm(int id) {
  Quad quad;
  const auto corners = marker_corners_mm(id);
  for (std::size_t i = 0; i < 4; ++i) quad[i] = {corners[i].x, corners[i].y};
  return quad;
}

Quad patch_mm(std::size_t patch) {
  const auto [x, y] = patch_at_mm(patch);
  return {{{x, y}, {x + kPatchWidth_mm, y}, {x + kPatchWidth_mm, y + kPatchHeight_mm}, {x, y + kPatchHeight_mm}}};
}

std::optional<Card> locate_card(const std::vector<Marker>& markers) {
  std::vector<Marker> best;
  for (const Marker& seed : markers)
    if (auto set = agreeing(markers, seed); set.size() > best.size()) best = std::move(set);
  if (best.empty()) return std::nullopt;

  std::vector<cv::Point2d> px;
  std::vector<cv::Point2d> mm;
  for (const Marker& m : best) {
    const auto corners = marker_corners_mm(m.id);
    mm.insert(mm.end(), corners.begin(), corners.end());
    for (const Point& p : m.corners_px) px.emplace_back(p.x, p.y);
  }
  Card card;
  cv::Matx33d px_from_mm = similarity(best.front());
  if (best.size() > 1) {
    const cv::Mat plane = cv::findHomography(mm, px, 0);
    if (plane.empty()) return std::nullopt;
    px_from_mm = cv::Matx33d(plane);
  }
  double squares = 0;
  for (std::size_t i = 0; i < px.size(); ++i) {
    const cv::Point2d d = applied(px_from_mm, mm[i]) - px[i];
    squares += d.dot(d);
  }
  card.residual_px = std::sqrt(squares / static_cast<double>(px.size()));
  card.mm_from_px = px_from_mm.inv();
  const cv::Point2d middle(kCardWidth_mm / 2, kCardHeight_mm / 2);
  const cv::Point2d here = applied(px_from_mm, middle);
  const cv::Point2d right = applied(px_from_mm, middle + cv::Point2d(1, 0)) - here;
  const cv::Point2d down = applied(px_from_mm, middle + cv::Point2d(0, 1)) - here;
  card.px_per_mm = std::sqrt(std::abs(right.cross(down)));
  const std::array<cv::Point2d, 4> outline{{{0, 0}, {kCardWidth_mm, 0}, {kCardWidth_mm, kCardHeight_mm}, {0, kCardHeight_mm}}};
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d p = applied(px_from_mm, outline[i]);
    card.outline_px[i] = {p.x, p.y};
  }
  // A flat card well seen fits to a fraction of a millimetre; common practice, not a standard.
  constexpr std::array<double, 5> kByCount{0, 0.5, 0.8, 0.95, 0.99};
  card.confidence = kByCount[best.size()] * std::exp(-std::pow(card.residual_px / (0.5 * card.px_per_mm), 2));
  card.markers = std::move(best);
  return card;
}

std::optional<Light> measure_light(const cv::Mat& bgr, const Card& card) {
  const cv::Matx33d px_from_mm = card.mm_from_px.inv();
  std::array<cv::Vec3d, kGreys_rgb.size()> seen;
  std::array<bool, kGreys_rgb.size()> clipped{};
  for (std::size_t k = 0; k < kGreys_rgb.size(); ++k) {
    const Point at = patch_at_mm(k);
    std::array<std::vector<double>, 3> levels;
    constexpr int kSamples = 24;
    for (int i = 0; i < kSamples; ++i)
      for (int j = 0; j < kSamples; ++j) {
        const cv::Point2d p = applied(px_from_mm, {at.x + kPatchWidth_mm * (0.2 + 0.6 * i / (kSamples - 1)),
                                                   at.y + kPatchHeight_mm * (0.2 + 0.6 * j / (kSamples - 1))});
        const cv::Point at_px(cvFloor(p.x), cvFloor(p.y));
        if (!cv::Rect(cv::Point(), bgr.size()).contains(at_px)) return std::nullopt;
        const auto& pixel = bgr.at<cv::Vec3b>(at_px);
        for (int c = 0; c < 3; ++c) levels[static_cast<std::size_t>(c)].push_back(pixel[2 - c]);
      }
    for (int c = 0; c < 3; ++c) {
      auto& values = levels[static_cast<std::size_t>(c)];
      // The middle half of the values: a speck of dust or a glint does not count.
      std::sort(values.begin(), values.end());
      double sum = 0;
      const std::size_t quarter = values.size() / 4;
      for (std::size_t i = quarter; i < values.size() - quarter; ++i) sum += linear_light(values[i] / 255);
      seen[k][c] = sum / static_cast<double>(values.size() - 2 * quarter);
      clipped[k] = clipped[k] || values[values.size() / 2] >= 253;
    }
    if (k > 0 && luminance(seen[k]) >= luminance(seen[k - 1]) && !clipped[k - 1]) return std::nullopt;
  }
  Light light;
  for (int c = 0; c < 3; ++c) {
    // Least squares of gain * seen = nominal, weighted so that dark and light patches count alike.
    double above = 0;
    double below = 0;
    for (std::size_t k = 0; k < seen.size(); ++k) {
      if (clipped[k]) continue;
      const double nominal = linear_light(kGreys_rgb[k][static_cast<std::size_t>(c)] / 255.0);
      above += seen[k][c];
      below += seen[k][c] * seen[k][c] / nominal;
    }
    if (below <= 0) return std::nullopt;
    light.gain_rgb[static_cast<std::size_t>(c)] = above / below;
  }
  for (std::size_t k = 0; k < seen.size(); ++k) {
    cv::Vec3d corrected;
    cv::Vec3d nominal;
    for (int c = 0; c < 3; ++c) {
      corrected[c] = std::min(1.0, seen[k][c] * light.gain_rgb[static_cast<std::size_t>(c)]);
      nominal[c] = linear_light(kGreys_rgb[k][static_cast<std::size_t>(c)] / 255.0);
    }
    light.grey_error += std::abs(lightness(luminance(corrected)) - lightness(luminance(nominal))) / double(seen.size());
  }
  return light;
}

}  // namespace papillote::calibration
