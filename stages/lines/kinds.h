// What made a line: a hand, a typewriter, type, a stamp.
#pragma once

#include <array>
#include <cstddef>

#include "pipeline/record/text.h"
#include "stages/lines/grouping.h"
#include "stages/lines/ink.h"

namespace papillote::lines {

// Measures of one line; lengths in millimetres, the rest without unit and mostly 0..1.
struct Traits {
  double height_mm = 0;         // of the ink
  double slimness = 0;          // length over height
  double filled = 0;            // share of the line's box that is ink
  double crossings = 0;         // strokes crossed along the middle of the line, per height
  double marks = 0;             // connected marks along the line, per height
  double joined = 0;            // width of marks over their height, weighted by ink
  double ragged_foot = 0;       // scatter of the marks' feet about a straight line, in heights
  double even_height = 0;       // share of marks that are as high as the middle one
  double even_pitch = 0;        // regularity of the ink along the line at the pitch of letters
  double stroke_mm = 0;         // mean thickness of strokes
  double stroke_spread = 0;     // scatter of the distance to the stroke's edge, over its mean
  double colour = 0;            // how unequally the ink takes blue, green and red
  double contrast = 0;
  double edge_mm = 0;           // distance of the line's ink from the border of the face, at most 10

  static constexpr std::size_t kCount = 14;
  // Made even in scale, for the linear decision.
  [[nodiscard]] std::array<double, kCount> values() const;
};

[[nodiscard]] Traits traits_of(const InkLine& line, const InkMap& map);

struct KindGuess {
  LineKind kind = LineKind::handwritten;
  double confidence = 0;  // of the kind, given that it is writing
  double writing = 0;     // that it is writing at all
};

[[nodiscard]] KindGuess guess_kind(const Traits& traits);

}  // namespace papillote::lines
