// Envelopes that touch or overlap, taken apart.
//
// Straight sides of the cluster's outline and straight edges inside it are prolonged to lines; every triangle
// (right-isosceles, as folded) and every four-sided shape with one pair of parallel sides that the lines can make is a
// guess; a guess must be borne out by edges or by the cluster's rim along each of its sides and lie within the cluster.
// The best guesses that do not overlap much are the envelopes.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "stages/segmentation/edges.h"
#include "stages/segmentation/shapes.h"

namespace papillote::segmentation {

struct SideLimits {
  double least_px = 0;
  double most_px = 0;
};

struct Guess {
  Shape shape;
  double support = 0;  // share of the outline borne out, 0..1
  double proof = 0;    // of the side with least: share that no fold or flap can feign (rim, or another colour beyond)
};

// `mask` (CV_8U) is not zero on the cluster; `segments` are straight edges of the whole picture.
// `colours` (CV_32FC3, L*a*b*) is smoothed over writing and print, to tell paper from paper.
[[nodiscard]] std::vector<Guess> take_apart(const cv::Mat& mask, const std::vector<cv::Point>& contour, const EdgeMap& edges,
                                            const std::vector<Segment>& segments, const cv::Mat& colours, const SideLimits& limits);

// The same without a cluster, from edges alone: paper of the table's colour. Nearly all of the outline must be edge.
[[nodiscard]] std::vector<Guess> from_edges_alone(const EdgeMap& edges, const std::vector<Segment>& segments, const cv::Mat& colours,
                                                  const SideLimits& limits);

}  // namespace papillote::segmentation
