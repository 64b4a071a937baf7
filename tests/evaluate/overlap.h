// How far two outlines agree.
#pragma once

#include <opencv2/core.hpp>

#include <vector>

namespace papillote::evaluation {

using Polygon = std::vector<cv::Point2d>;

struct Overlap {
  double common = 0;  // areas in square pixels
  double first = 0, second = 0;

  [[nodiscard]] double iou() const {
    const double all = first + second - common;
    return all > 0 ? common / all : 0;
  }
};

// Any simple polygons; counted on a grid of at most 1000 cells a side, exact to about half a per cent of small outlines.
[[nodiscard]] Overlap overlap(const Polygon& first, const Polygon& second);

struct Pair {
  std::size_t truth, found;
  double iou;
};
// One-to-one, the best agreeing first, none below the least.
[[nodiscard]] std::vector<Pair> pair_up(const std::vector<Polygon>& truth, const std::vector<Polygon>& found, double least_iou);

}  // namespace papillote::evaluation
