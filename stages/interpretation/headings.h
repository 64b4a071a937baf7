// Private to this room: headings of tins, what one slip or the tin itself says for all envelopes under it.
#pragma once

#include <optional>
#include <string>

#include "pipeline/record/text.h"
#include "stages/interpretation/tin.h"

namespace papillote::interpretation {

// The heading that an annotation in the tin is: years or the word "all", and nothing that only one specimen has.
[[nodiscard]] std::optional<Heading> heading_in(const Annotation&, const Interpretation& alone, const std::string& where);

// Fills what the envelope leaves open and settles between readings it doubts; what it says clearly stays.
void go_by_heading(const Heading&, Interpretation& facts);

}  // namespace papillote::interpretation
