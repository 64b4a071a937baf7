// Indexing: all answers about one photograph -> the rows of the index, each envelope with the slip that lies by it.
#pragma once

#include <vector>

#include "pipeline/record/index_record.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"

namespace papillote::indexing {

inline constexpr Stage stage{"indexing", 2};

// All vectors have one element per envelope, in the same order. A failed part leaves its record at default values.
// A slip goes to the nearest envelope within 40 mm; two equally near are said in `slip_doubt` and neither gets it.
[[nodiscard]] Result<PhotoIndex> index_rows(const Photo&, const Calibration&, const std::vector<EnvelopeOutline>&,
                                            const Each<Annotation>&, const Each<Interpretation>&, const Each<Condition>&,
                                            const Each<Triage>&);

}  // namespace papillote::indexing
