// Draws planned damage on a face.
#pragma once
#include "face.h"

namespace papillote::samples {

// What sits in or on the paper: stains, growth, tape, creases. Call after the writing, before shading.
void draw_on_paper(Face& face, const Damage& damage);
// What takes paper away or adds things beside it. Call after shading.
void draw_beyond_paper(Face& face, const EnvelopePlan& plan, const Damage& damage);

}  // namespace papillote::samples
