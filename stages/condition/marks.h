// What detectors share: the net's odds as regions, with the measures that severity is judged by.
#pragma once

#include <vector>

#include "stages/condition/detector.h"

namespace papillote::condition {

// Log odds at which a region ends: parts hang together where they are worse than even. What reaches them nowhere is no mark.
inline constexpr double kLeastOdds = -1;

// A region that the net marks as one kind of damage. Lengths in about a millimetre (View::unit_px).
struct Mark {
  std::vector<cv::Point> core;     // pixels twice as fine as the view, where the net is rather sure
  double score = 0;                // highest log odds, averaged over a few pixels (one for the smallest things)
  double length = 0;               // sides of the smallest turned rectangle, length >= width
  double width = 0;
  double area = 0;
  double radius = 0;               // of a disc of the same area
  double depth = 0;                // how far it reaches into the paper from the paper's edge
  double reach = 0;                // how far it reaches beyond the paper
  cv::Rect box;                    // in the view

  [[nodiscard]] Polygon polygon() const;  // convex, around the core, in the view
};

// Regions where the odds are not much worse than even, strongest first. Parts closer than `join` are one region; with 0, for things that may
// have no more than a pixel or two, even parts that hang together by a neck are regions of their own.
[[nodiscard]] std::vector<Mark> marks_of(const View&, Damage, double join);

// Region and confidence of a mark: 1 / (1 + exp(-(score - middle) / scale)).
[[nodiscard]] Sign sign_of(const Mark&, double middle, double scale);

// Severity 1..4 of a measured quantity by the three limits at which the next step begins.
[[nodiscard]] int severity_of(double value, double from_2, double from_3, double from_4);

}  // namespace papillote::condition
