// How far the paper is lifted by what lies within, told by its shading.
#pragma once

#include "stages/condition/detector.h"

namespace papillote::condition {

// A swelling is brighter towards the light and darker away from it. Fitted to the logarithm of the paper's light, robustly, beside an
// even slope of the light: the gradient of a round hill at the middle of the paper. Its strength times the paper's longer side, in
// millimetres; half of the envelopes reach 8, those that bulge 12. Writing and print are painted over with the paper between
// them first. 0 where too little paper shows. Means nothing on glassine, through which the insect shows.
// Source of the idea: shading of a linearised surface (A. Pentland, "Linear shape from shading", 1990); the measure is our own.
[[nodiscard]] double lift_of(const View&);

}  // namespace papillote::condition
