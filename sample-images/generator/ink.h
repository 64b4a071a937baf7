// Puts writing into the paper.
#pragma once
#include "face.h"

namespace papillote::samples {

// All lines written with one ink. Draws them, lets the strokes swell, thin out and sink in.
void apply_ink(Face& face, const FontShelf& shelf, const std::vector<PlacedLine>& lines, std::size_t ink_index, const Ink& ink, Random& random);

}  // namespace papillote::samples
