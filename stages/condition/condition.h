// Condition: damage and fragility of one envelope and of what shows of its content.
//
// One detector a file in detectors/; each looks at the same prepared view of the envelope (see detector.h). A photograph
// with the verdict "retake" is not judged: "cannot judge" is never "undamaged".
#pragma once

#include <cstddef>
#include <span>
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

// Judges `all[which]`; the other outlines of the photograph only say what lies beside it. `written` are its lines: writing is no
// damage.
[[nodiscard]] Result<Condition> assess(std::span<const EnvelopeOutline> all, std::size_t which, const LineLayout& written,
                                       const Calibration&, const image::Image&);

// Names and versions of all detectors: part of the key.
[[nodiscard]] std::string detectors_identity();

}  // namespace papillote::condition
