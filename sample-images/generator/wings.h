// Insects as seen through glassine or sticking out of a torn fold: drawn, never copied from life.
#pragma once
#include "drawing.h"
#include "gazette.h"
#include "random.h"

namespace papillote::samples {

// A papered insect lying on its side, wings together over the back; the body's middle at `at`,
// wings pointing along wings_deg, forewing length wing_mm; with or without its body.
void draw_insect(const ColourPainter& painter, Order order, Fauna fauna, Point at, double wings_deg, double wing_mm, bool body, Random random);
// What is broken off is gone from where it was.
void break_off(const ColourPainter& painter, const Polygon& part);
// The tip of a wing, `root` within the paper, `tip` outside.
void draw_wing_tip(const ColourPainter& painter, Point root, Point tip, double width_mm, Random random);
void draw_antenna(const ColourPainter& painter, Point root, Point tip, Random random);
// A broken piece of wing, outline given.
void draw_wing_piece(const ColourPainter& painter, const Polygon& outline, Random random);

}  // namespace papillote::samples
