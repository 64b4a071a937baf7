// The elevation that an annotation states, in metres.
//
// English feet are 0.3048 m. A foot named in another language (Fuss, pieds, pies ...) may be an English or a local one,
// which differ by some per cent: the elevation is left open, and both are given as alternatives. A number without a
// unit is left open. Distances ("5 m. N. of ..."), depths and heights above ground are not taken.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "pipeline/record/text.h"

namespace papillote::interpretation {

struct ElevationReading {
  std::string verbatim;            // the characters of the elevation, as they stand
  std::size_t begin = 0, end = 0;  // bytes of the text; begin == end when none was found
  std::optional<ElevationRange> metres;
  double confidence = 0;
  std::vector<std::pair<ElevationRange, double>> alternatives;
  std::vector<std::string> reasons;
};

// Any bytes; time grows in proportion to the length.
[[nodiscard]] ElevationReading read_elevation(std::string_view text);

}  // namespace papillote::interpretation
