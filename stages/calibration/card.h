// The capture card: from its markers to the plane of the table, from its grey patches to the light.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"
#include "stages/calibration/markers.h"

namespace papillote::calibration {

// The layout in mm on the card, corners from the upper left clockwise.
[[nodiscard]] Quad marker_mm(int id);           // 0 to 3, the black square
[[nodiscard]] Quad patch_mm(std::size_t patch);  // 0 to 11: six greys from light to dark, six colours
inline constexpr std::size_t kPatches = 12;
inline constexpr std::size_t kGreys = 6;

struct Card {
  cv::Matx33d mm_from_px;     // card's upper left corner = (0, 0)
  double px_per_mm = 0;       // at the middle of the card
  Quad outline_px{};
  std::vector<Marker> markers;  // those that agree with each other
  double residual_px = 0;     // root mean square of the corners about the plane
  double confidence = 0;
};

// The largest set of markers that lie as the card's do; nothing without any. One marker gives a plane seen straight on.
[[nodiscard]] std::optional<Card> locate_card(const std::vector<Marker>& markers);

struct Light {
  std::array<double, 3> gain_rgb{1, 1, 1};
  double grey_error = 0;  // mean |dL*| of the six greys after the gain
};

// Nothing when the patches are clipped, hidden or not in order from light to dark.
[[nodiscard]] std::optional<Light> measure_light(const cv::Mat& bgr, const Card& card);

}  // namespace papillote::calibration
