// Condition: damage and fragility of one envelope and of what shows of its content.
//
// A net (models/damage, its card says what it was taught) marks damage pixel by pixel; one detector a file in detectors/ turns the marks of its
// kind into findings (see detector.h). A photograph with the verdict "retake" is not judged, and what is cut off, covered or
// overexposed is said to be so: "cannot judge" is never "undamaged".
#pragma once

#include <string>

#include "models/crop_net.h"
#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"
#include "pipeline/record/verdict.h"

namespace papillote::condition {

inline constexpr Stage stage{"condition", 8};

// `written` says what the paper is and where the writing stands; `net` is models/damage. Failure: "inference".
[[nodiscard]] Result<Condition> assess(const EnvelopeOutline&, const LineLayout& written, const Calibration&, const image::Image&,
                                       const models::CropNet& net);

// Names and versions of all detectors: part of the key.
[[nodiscard]] std::string detectors_identity();

}  // namespace papillote::condition
