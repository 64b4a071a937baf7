// Ink -> straight lines of writing, in any direction.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

namespace papillote::lines {

// A line of writing in pixels of the ink map. `along` = direction of the writing (x right, y down, clockwise);
// u runs along it and v across it, from the map's origin.
struct InkLine {
  double along_deg = 0;
  double u0 = 0, u1 = 0, v0 = 0, v1 = 0;  // extent of the ink
  std::vector<cv::Point> ink;

  [[nodiscard]] double length() const { return u1 - u0; }
  [[nodiscard]] double height() const { return v1 - v0; }
};

struct Axes {
  explicit Axes(double along_deg);
  double cos_along, sin_along;

  [[nodiscard]] double u(cv::Point2d p) const { return p.x * cos_along + p.y * sin_along; }
  [[nodiscard]] double v(cv::Point2d p) const { return p.y * cos_along - p.x * sin_along; }
  [[nodiscard]] cv::Point2d at(double u, double v) const { return {u * cos_along - v * sin_along, u * sin_along + v * cos_along}; }
};

// Directions that the writing in a set of ink pixels may have, -90 < deg <= 90, likeliest first: those in which the profile
// across is most uneven. `prior_deg` comes first unless another is clearly better.
[[nodiscard]] std::vector<double> directions_of(const std::vector<cv::Point>& ink, double px_per_mm, std::optional<double> prior_deg = {});

// Lines in `ink` (CV_8UC1): blocks that stand together, each with its own direction, each cut into lines. `looseness`: how much
// wider than usual the gaps within a line may be.
[[nodiscard]] std::vector<InkLine> group_ink(const cv::Mat& ink, double px_per_mm, double looseness = 1);

// The lines of one block whose direction is known.
[[nodiscard]] std::vector<InkLine> lines_along(const std::vector<cv::Point>& ink, double along_deg, double px_per_mm);

}  // namespace papillote::lines
