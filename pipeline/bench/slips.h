// Identifier slips: one catalogue number each, as a Data Matrix and for the eye, to lie in or beside an envelope.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/record/result.h"

namespace papillote::bench {

// `prefix`, the running number with at least `digits` digits, and the check character: "PAP000123" + check.
// Failures: "not_a_number" for a prefix the check character does not cover, "nothing_to_print" for no number or too many.
[[nodiscard]] Result<std::vector<std::string>> catalogue_numbers(const std::string& prefix, int from, int count, int digits);

// Many to a page; each code holds its catalogue number alone, check character included.
[[nodiscard]] Result<std::string> slips_pdf(const std::vector<std::string>& numbers, const std::string& made);

}  // namespace papillote::bench
