// Columns of a newspaper: the paper many a triangle was folded from.
#pragma once
#include "envelope.h"

namespace papillote::samples {

// The print visible on the face, clipped to the paper; every line carries the letters that can be read whole.
// Ink number `ink` of the plan is used.
std::vector<PlacedLine> set_newsprint(const FontShelf& shelf, const Polygon& paper_mm, Language language, std::size_t ink, Random& random);

}  // namespace papillote::samples
