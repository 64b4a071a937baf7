// Condition: damage and fragility of one envelope and of what shows of its content.
//
// One detector a file in detectors/; each looks at the same prepared view of the envelope (see detector.h). A photograph
// with the verdict "retake" is not judged: "cannot judge" is never "undamaged".
#pragma once

#include <string>

#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"
#include "pipeline/record/verdict.h"

namespace papillote::condition {

inline constexpr Stage stage{"condition", 1};

[[nodiscard]] Result<Condition> assess(const EnvelopeOutline&, const LineLayout&, const Calibration&, const image::Image&);

// Names and versions of all detectors: part of the key.
[[nodiscard]] std::string detectors_identity();

}  // namespace papillote::condition
