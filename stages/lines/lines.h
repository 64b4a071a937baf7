// Lines: every line of annotation on one envelope, in any direction, in reading order, with its kind.
//
// A net (models/lines, its card says what it was taught) marks handwriting, type, print, stamps and newsprint pixel by pixel, with the
// core of each line and its direction. Folds, the flap's edge, creases, stains, ruled lines and wings behind glassine are not lines.
// Newsprint behind the annotation is kept as its own kind. Strips (`quad_px`) run along the text, from where it starts; the reader settles
// which end that is.
#pragma once

#include "models/crop_net.h"
#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"

namespace papillote::lines {

inline constexpr Stage stage{"lines", 3};

// `net` is models/lines. Failure: "inference".
[[nodiscard]] Result<LineLayout> find_lines(const EnvelopeOutline&, const Calibration&, const image::Image&, const models::CropNet& net);

}  // namespace papillote::lines
