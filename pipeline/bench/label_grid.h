// Many like pieces on one page, to be cut apart: a centred grid with cut marks.
#pragma once

#include <functional>

#include "pipeline/bench/page.h"

namespace papillote::bench {

struct LabelGrid {
  double width = 0;  // of one piece
  double height = 0;
  int columns = 0;
  int rows = 0;
};

// Pieces 0, 1, 2 ... row by row, over as many pages as they need; `draw` is given the area of each.
void draw_grid(Book& book, const LabelGrid& grid, std::size_t pieces,
               const std::function<void(Page&, const Area&, std::size_t)>& draw);

}  // namespace papillote::bench
