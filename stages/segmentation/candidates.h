// What may be an envelope in a photograph of working size, and the choice among it.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "stages/segmentation/cluster.h"
#include "stages/segmentation/shapes.h"

namespace papillote::segmentation {

struct Candidate {
  Shape shape;
  double quality = 0;  // 0..1
  int level = 0;       // threshold that set it apart from the table, higher = harder
  bool apart = false;  // table all round: a shape of its own, not one of a cluster
  double proof = 0;    // that its weakest side is an envelope's own and no fold, flap or line of writing, 0..1
};

// Every plausible envelope on `bgr` (CV_8UC3), at many thresholds, mostly several guesses for one envelope. Pixels where
// `ignore` (CV_8U) is not zero are taken for table.
[[nodiscard]] std::vector<Candidate> find_candidates(const cv::Mat& bgr, const cv::Mat& ignore, const SideLimits& limits);

// One for each envelope: of guesses that overlap the best, of one shape and the several it falls apart into at a harder
// threshold the several.
[[nodiscard]] std::vector<Candidate> choose(std::vector<Candidate> candidates);

// Both; and where one shape fills much of the photograph and several lie within it, it is an open tin or a tray, and
// those within are the envelopes.
[[nodiscard]] std::vector<Candidate> find_all(const cv::Mat& bgr, const cv::Mat& ignore, const SideLimits& limits);

}  // namespace papillote::segmentation
