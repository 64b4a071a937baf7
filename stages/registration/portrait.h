// Portrait: one envelope in one photograph -> how it looks from afar.
//
// Marks are the logarithm of light against the paper around (a Gaussian window over the paper alone), so that another lamp adds
// what the window takes out: what stays is ink, stains, folds and print.
#pragma once

#include "pipeline/image/image.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/portrait.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"

namespace papillote::registration {

inline constexpr Stage portrait_stage{"portrait", 3};
inline constexpr int kPortraitCells = 64;

[[nodiscard]] Result<Portrait> portray(const EnvelopeOutline&, const Calibration&, const image::Image&);

}  // namespace papillote::registration
