// Private to this room: claims of one annotation, each from its best text or the reader's other texts.
#pragma once

#include <optional>
#include <string>

#include "pipeline/record/text.h"
#include "stages/interpretation/dates.h"

namespace papillote::interpretation {

[[nodiscard]] std::optional<Claim<std::string>> date_claim(const Annotation&, const DateContext&);

}  // namespace papillote::interpretation
