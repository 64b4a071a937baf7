// Triage: who needs attention first, with reasons in words.
//
// Four levels, in this order: "isolate" (signs of live pest or mould), "stabilise" (serious damage),
// "valuable" (type words, rare or old material), "routine". Order of work: reference table damage_signs, common practice.
#pragma once

#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"
#include "pipeline/record/verdict.h"

namespace papillote::triage {

inline constexpr Stage stage{"triage", 1};

[[nodiscard]] Result<Triage> rank(const Annotation&, const Interpretation&, const Condition&);

}  // namespace papillote::triage
