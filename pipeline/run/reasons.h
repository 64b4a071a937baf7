// Why a step runs, in words: what changed since it ran last for this photograph.
#pragma once

#include <optional>
#include <string>

#include "pipeline/store/results.h"

namespace papillote::run {

// "first time", "option px_per_mm changed from 0 to 20", "version changed from 1 to 2", "segmentation changed".
[[nodiscard]] std::string why_it_runs(const std::optional<store::Standing>& before, const store::Ingredients& now);

}  // namespace papillote::run
