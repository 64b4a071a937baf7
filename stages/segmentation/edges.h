// Where colours change sharply, and in which direction the edge runs.
#pragma once

#include <array>
#include <utility>
#include <vector>

#include <opencv2/core.hpp>

#include "stages/segmentation/shapes.h"

namespace papillote::segmentation {

struct Segment {
  cv::Point2d a;
  cv::Point2d b;
};

// Thin edges of a picture, sorted by direction; asked along a line, they answer how much of it is edge.
class EdgeMap {
 public:
  // `bgr` is CV_8UC3. An edge counts when it stands out from the grain of the picture.
  explicit EdgeMap(const cv::Mat& bgr);

  // Whether an edge runs along `direction` (unit vector) within a pixel and a half of p.
  [[nodiscard]] bool runs(const cv::Point2d& p, const cv::Point2d& direction) const;

  // CV_8U, not zero near an edge of any direction.
  [[nodiscard]] cv::Mat any() const;

  // Share of the shape's outline that lies on edges.
  [[nodiscard]] double support(const Shape& shape) const;
  // The same for the side that has least of it.
  [[nodiscard]] double weakest_side(const Shape& shape) const;

  // How far the sides run on as edges beyond their corners, 0..1: the rules of a ruled table do, an envelope's sides end.
  [[nodiscard]] double running_on(const Shape& shape) const;

  // Each side moved, by `outward_px` at most outwards and `inward_px` inwards, to where most of it lies on edges.
  [[nodiscard]] Shape settled(const Shape& shape, double outward_px, double inward_px) const;

  // Straight edges of at least `least_px`, faint ones too; gaps where an edge fades are bridged. Grain and writing make
  // some that are none.
  [[nodiscard]] std::vector<Segment> straight(double least_px) const;

 private:
  // Of a - b, every other pixel: how many lie on an edge, of how many.
  [[nodiscard]] std::pair<int, int> along(const cv::Point2d& a, const cv::Point2d& b) const;

  static constexpr int kDirections = 12;
  std::array<cv::Mat, kDirections> thin_;  // CV_8U, the crest of an edge
  std::array<cv::Mat, kDirections> near_;  // CV_8U, not zero near an edge of that direction
};

// Clear straight edges of at least `least_px`, in brightness and in colour.
[[nodiscard]] std::vector<Segment> clear_straight_edges(const cv::Mat& bgr, double least_px);

}  // namespace papillote::segmentation
