// The outline of one envelope from the pixels that are seen of it.
#pragma once

#include <vector>

#include "stages/segmentation/instances.h"
#include "stages/segmentation/shapes.h"

namespace papillote::segmentation {

struct Outline {
  Shape corners;             // clockwise; convex where the instance is
  std::vector<bool> own;     // of each side (corner i to i + 1): an edge of the envelope's own, not of what lies on it
  double fill = 0;           // intersection over union of outline and pixels, 0..1
};

// The simplest of the trade's shapes that the pixels fill, else a free polygon; its sides lie along the rim's pixels. In pixels of
// the marks. Empty when there is none.
[[nodiscard]] Outline outline_of(const Instance& instance);

// The whole envelope, hidden parts too, from the sides of `seen` that are its own: neighbours of hidden sides are prolonged until
// they meet; where they do not, the envelope ends as far beyond its middle as it begins before it. Empty when all of it is seen,
// or too little to tell.
[[nodiscard]] Shape completed(const Shape& seen, const std::vector<bool>& own, const cv::Point2d& full_middle);

// The outline without the corners that its pixels do not fill: torn off, folded over, or the slanted end of an open flap. A side runs
// on straight to where no paper is seen beside it any more; there a new side begins. `corners` is near outline_of(instance).corners.
[[nodiscard]] Shape without_lost_corners(const Shape& corners, const Instance& instance);

}  // namespace papillote::segmentation
