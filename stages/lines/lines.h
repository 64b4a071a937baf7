// Lines: every line of annotation on one envelope, in any direction, in reading order, with its kind.
//
// Folds, the flap's edge, creases, stains, ruled lines and wings behind glassine are not lines. Newsprint behind the
// annotation is kept as its own kind. Strips (`quad_px`) run along the text; which end is the start
// is a guess of the layout here and settled by the reader.
#pragma once

#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"

namespace papillote::lines {

inline constexpr Stage stage{"lines", 1};

[[nodiscard]] Result<LineLayout> find_lines(const EnvelopeOutline&, const Calibration&, const image::Image&);

}  // namespace papillote::lines
