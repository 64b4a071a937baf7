// The bench plan on paper: a strip of batches over the weeks, a calendar by day, what to have ready, the space it takes, and
// the figures it rests on with their sources.
#pragma once

#include <string>

#include "pipeline/bench/plan.h"

namespace papillote::bench {

[[nodiscard]] std::string plan_pdf(const Plan& plan, const PlanSettings& settings, const std::string& made);

// Batches, repapering and what is left, one row a specimen: id,outcome,batch,size,into_chamber,on_board,off_board.
[[nodiscard]] std::string plan_csv(const Plan& plan);

}  // namespace papillote::bench
