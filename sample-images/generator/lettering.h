// Sets one line of annotation: a hand that wavers from word to word, a typewriter that strikes unevenly,
// type in a straight line, a stamp.
#pragma once
#include <cairo.h>

#include <string>
#include <vector>

#include "fonts.h"
#include "geometry.h"

namespace papillote::samples {

enum class LineKind { handwritten, typed, printed, stamped, newsprint };
const char* name(LineKind kind);

struct Lettering {
  const Font* font = nullptr;
  LineKind kind = LineKind::handwritten;
  double x_height_mm = 2.0;
  double wander = 1.0;  // how unsteady, 1 = an ordinary hand or machine
  double letter_space_em = 0.0;
  double pen_mm = 0.0;  // the pen that wrote it: strokes of a font finer than this are thickened
};

struct SetWord {
  std::string text;
  double x_mm, rise_mm, scale, turn_deg, strength;
};

struct SetLine {
  Lettering lettering;
  std::vector<SetWord> words;
  Bounds ink_mm;  // about the start of the baseline; y down, so ascenders are negative
};

SetLine set_line(const FontShelf& shelf, const Lettering& lettering, const std::string& text, Random random);
// Draws with the context's unit in millimetres.
void draw(cairo_t* cairo, const FontShelf& shelf, const SetLine& line, Point start_mm, double turned_deg);
struct Cut {
  std::string text;
  double left_mm, right_mm;
};
// The whole characters of the text which lie between two positions along the line.
Cut characters_between(const FontShelf& shelf, const Lettering& lettering, const std::string& text, double from_mm, double to_mm);

}  // namespace papillote::samples
