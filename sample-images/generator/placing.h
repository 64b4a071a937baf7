// Finds room for the writing: lines parallel to an edge, within the paper, clear of each other.
#pragma once
#include "envelope.h"

namespace papillote::samples {

struct BlockWish {
  LineKind kind;
  std::vector<std::string> lines;
  Lettering lettering;
  double direction_deg;
  double smallest_x_height_mm;
  bool to_a_corner;  // stamps and headings keep away from the middle
};

// Adds the block's lines to plan.lines; false when there is no room even at the smallest size.
bool place_block(const FontShelf& shelf, EnvelopePlan& plan, const BlockWish& wish, std::size_t ink, Random& random);
bool overlap(const Polygon& convex_a, const Polygon& convex_b);

}  // namespace papillote::samples
