// Where an envelope lies on its sheet, in words a hand can follow: "row 2, no. 3".
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/geometry.h"

namespace papillote::bench {

struct Position {
  int row = 0;     // 1 = uppermost
  int number = 0;  // 1 = leftmost of its row

  auto operator<=>(const Position&) const = default;

  [[nodiscard]] std::string words() const;   // "row 2, no. 3"
  [[nodiscard]] std::string figure() const;  // "2.3"
};

// One per outline, in the order given. Rows may slope and sag: an envelope joins the row whose neighbour to its left
// stands beside it for at least half the height of the lower of the two.
[[nodiscard]] std::vector<Position> positions_of(const std::vector<Polygon>& outlines_px);

}  // namespace papillote::bench
