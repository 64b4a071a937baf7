// The paper itself: colour, fibres, toning, rules, folds.
#pragma once
#include "face.h"

namespace papillote::samples {

void lay_paper(Face& face, const EnvelopePlan& plan, Random& random);
// Relief: the insect within, strips folded over, creases, cockling; shades the colour by the light.
void raise_relief(Face& face, const EnvelopePlan& plan, Random& random);
void shade(Face& face, Point light);

}  // namespace papillote::samples
