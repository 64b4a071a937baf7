// Which back belongs to which front, when both sides of a sheet were photographed and no slip says so.
//
// A sheet's envelopes are turned over one by one where they lie, or all together between two boards: then the backs lie
// mirrored. The turn and the shift that bring most backs of the right size near a front are taken; each pair says how sure it
// is. A layout that fits both ways, such as a regular grid of equal envelopes, gives pairs with little confidence.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "pipeline/record/geometry.h"

namespace papillote::registration {

struct Lying {
  Point middle_mm;  // in any frame that is the same for the whole photograph; y down
  double area_mm2 = 0;
};

enum class Turn { in_place, left_to_right, top_to_bottom };
[[nodiscard]] std::string_view words_of(Turn);  // "turned over where it lay"

struct SidePair {
  std::size_t front = 0, back = 0;  // indices
  double confidence = 0;

  bool operator==(const SidePair&) const = default;
};

struct Sides {
  Turn turn = Turn::in_place;
  std::vector<SidePair> pairs;  // by front; those known from slips are not among them
};

// `known`: pairs {front, back} that carry the same slip.
[[nodiscard]] Sides pair_sides(std::span<const Lying> fronts, std::span<const Lying> backs,
                               std::span<const std::pair<std::size_t, std::size_t>> known);

}  // namespace papillote::registration
