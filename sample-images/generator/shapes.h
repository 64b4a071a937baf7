// The trade's shapes, folded from paper by hand.
#pragma once
#include "envelope.h"

namespace papillote::samples {

struct Folded {
  Polygon paper_mm;
  std::vector<Flap> flaps;
  std::vector<Polygon> folds_mm;
  Point bulge_at_mm;
  double insect_deg;
};

// largest_mm is the longest edge.
Folded fold(Shape shape, double largest_mm, Random& random);
// What the other face shows.
Folded fold_back(const EnvelopePlan& front, Random& random);

}  // namespace papillote::samples
