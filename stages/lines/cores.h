// Marks of the net -> straight lines: the cores of lines, gathered along their own direction.
#pragma once

#include <array>
#include <vector>

#include "models/crop_net.h"
#include "pipeline/record/text.h"

namespace papillote::lines {

// The net's channels.
inline constexpr std::array kKinds{LineKind::handwritten, LineKind::typed, LineKind::printed, LineKind::stamped, LineKind::newsprint};
inline constexpr std::size_t kNoLine = 0, kFirstKind = 1, kCore = 6, kCosine = 7, kSine = 8, kAbove = 9, kBelow = 10, kChannels = 11;

struct Axes {
  explicit Axes(double along_deg);
  double cos_along, sin_along;

  [[nodiscard]] double u(cv::Point2d p) const { return p.x * cos_along + p.y * sin_along; }
  [[nodiscard]] double v(cv::Point2d p) const { return p.y * cos_along - p.x * sin_along; }
  [[nodiscard]] cv::Point2d at(double u, double v) const { return {u * cos_along - v * sin_along, u * sin_along + v * cos_along}; }
};

// A line in pixels of the maps. `along_deg`: the reading direction (x right, y down, clockwise); u runs along it and v across, downwards as
// one reads, from the maps' origin.
struct Core {
  double along_deg = 0;
  double u0 = 0, u1 = 0, v0 = 0, v1 = 0;  // the line with its ascenders and descenders
  double pixels = 0;                      // of its core
  double firmness = 0;                    // mean probability of the core
  std::array<double, kKinds.size()> kinds{};  // share of each kind, adding up to 1

  [[nodiscard]] bool newsprint() const { return kinds.back() > 0.5; }
  [[nodiscard]] double length() const { return u1 - u0; }
  [[nodiscard]] double height() const { return v1 - v0; }
};

// Connected pixels of cores that share direction and are all newsprint or all annotation; pieces of one line that a gap parts are joined.
[[nodiscard]] std::vector<Core> gather(const models::CropMarks&);

}  // namespace papillote::lines
