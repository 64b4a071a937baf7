// From marks to envelopes: which pixels belong together.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "stages/segmentation/finder.h"

namespace papillote::segmentation {

// What is seen of one envelope. Coordinates in pixels of the marks, origin at the outer corner of the first.
struct Instance {
  std::vector<cv::Point> contour;  // pixels along the rim of its largest piece
  double area_px = 0;              // of that piece
  double paper = 0;                // mean probability of paper, 0..1
  double closed = 0;               // share of the rim that the network marks as an edge (or that the frame cuts), 0..1
  double agreement = 0;            // of its pixels on where the middle is, 0..1
  cv::Mat covered;                 // CV_8U, not zero where it goes on beneath something, in `box`
  cv::Rect box;
  cv::Point2d middle;              // of that piece
  cv::Point2d full_middle;         // where the network takes the middle of the whole envelope to be
};

// Pixels where `ignore` (CV_8U, size of the marks) is not zero are no envelope.
[[nodiscard]] std::vector<Instance> instances_of(const Marks& marks, const cv::Mat& ignore);

}  // namespace papillote::segmentation
