#include "pipeline/bench/label_grid.h"

#include <algorithm>

#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr double kFooter = 12;  // kept free at the lower edge of the paper

// Marks outside the grid for the guillotine, small crosses inside it for scissors.
void draw_cut_marks(Page& page, Point corner, const LabelGrid& grid) {
  constexpr double kGap = 0.8;
  constexpr double kReach = 3.5;
  constexpr double kCross = 0.9;
  const double right = corner.x + grid.columns * grid.width;
  const double bottom = corner.y + grid.rows * grid.height;
  for (int column = 0; column <= grid.columns; ++column) {
    const double x = corner.x + column * grid.width;
    page.line({x, corner.y - kGap - kReach}, {x, corner.y - kGap}, kQuiet, kHairlineMm);
    page.line({x, bottom + kGap}, {x, bottom + kGap + kReach}, kQuiet, kHairlineMm);
  }
  for (int row = 0; row <= grid.rows; ++row) {
    const double y = corner.y + row * grid.height;
    page.line({corner.x - kGap - kReach, y}, {corner.x - kGap, y}, kQuiet, kHairlineMm);
    page.line({right + kGap, y}, {right + kGap + kReach, y}, kQuiet, kHairlineMm);
    for (int column = 0; column <= grid.columns; ++column) {
      const double x = corner.x + column * grid.width;
      page.line({std::max(x - kCross, corner.x), y}, {std::min(x + kCross, right), y}, kRule, kHairlineMm);
      page.line({x, std::max(y - kCross, corner.y)}, {x, std::min(y + kCross, bottom)}, kRule, kHairlineMm);
    }
  }
}

}  // namespace

void draw_grid(Book& book, const LabelGrid& grid, std::size_t pieces,
               const std::function<void(Page&, const Area&, std::size_t)>& draw) {
  const auto columns = static_cast<std::size_t>(grid.columns);
  const auto a_page = columns * static_cast<std::size_t>(grid.rows);
  Point corner;
  for (std::size_t piece = 0; piece < pieces; ++piece) {
    const std::size_t on_page = piece % a_page;
    if (on_page == 0) {
      Page& page = book.turn();
      corner = {(page.width() - grid.columns * grid.width) / 2, (page.height() - kFooter - grid.rows * grid.height) / 2};
      draw_cut_marks(page, corner, grid);
    }
    const double x = corner.x + static_cast<double>(on_page % columns) * grid.width;
    const double y = corner.y + static_cast<double>(on_page / columns) * grid.height;
    draw(book.page(), {x, y, grid.width, grid.height}, piece);
  }
}

}  // namespace papillote::bench
