// Everything on a face that may be a line, with its measures: what find_lines chooses from and what its choice is learnt from.
#pragma once

#include <string>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/text.h"
#include "stages/lines/kinds.h"

namespace papillote::lines {

struct Examined {
  std::string paper;
  std::vector<TextLine> lines;   // in reading order, newsprint last
  std::vector<Traits> traits;    // one per line
};

[[nodiscard]] Examined examine(const EnvelopeOutline&, const Calibration&, const image::Image&);

}  // namespace papillote::lines
