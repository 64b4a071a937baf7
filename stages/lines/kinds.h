// What made a line: a hand, a typewriter, type, a stamp.
#pragma once

#include <array>

#include "pipeline/record/text.h"
#include "stages/lines/grouping.h"
#include "stages/lines/ink.h"

namespace papillote::lines {

// Measures of one line, each about 0..1.
struct Traits {
  double height_mm = 0;       // of the ink
  double marks_per_height = 0;  // connected marks along the line, per height of the line
  double joined = 0;          // width of marks against their height, ink-weighted
  double ragged_foot = 0;     // scatter of the marks' feet about a straight line, in heights
  double even_height = 0;     // share of ink in marks of the commonest height
  double even_pitch = 0;      // regularity of the marks' distances
  double stroke_mm = 0;       // mean stroke thickness
  double colour = 0;          // how unequally the ink takes blue, green and red
  double contrast = 0;

  [[nodiscard]] std::array<double, 9> values() const {
    return {height_mm, marks_per_height, joined, ragged_foot, even_height, even_pitch, stroke_mm, colour, contrast};
  }
};

[[nodiscard]] Traits traits_of(const InkLine& line, const InkMap& map);

struct KindGuess {
  LineKind kind = LineKind::handwritten;
  double confidence = 0;
};

[[nodiscard]] KindGuess guess_kind(const Traits& traits);

}  // namespace papillote::lines
