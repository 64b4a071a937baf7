// Envelopes that seem to have been photographed before, both pictures side by side, for a decision by eye.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/bench/photo_source.h"
#include "pipeline/record/index_record.h"

namespace papillote::bench {

struct RefoundSide {
  std::string id, catalogue_number;
  std::string where;  // tin, sheet, position; the photograph
  std::string text;
  Picture picture;     // may be empty
  Polygon outline_px;  // in the picture
};

struct RefoundPair {
  RefoundSide earlier, newer;
  double confidence = 0;
  std::vector<std::string> reasons;
};

// One envelope on one photograph, upright as read.
[[nodiscard]] RefoundSide refound_side(const Photo&, const IndexRecord&, std::string where, const PhotoSource&);

// Boxes to tick at each pair; nothing in it is settled yet.
[[nodiscard]] std::string refound_pdf(const std::vector<RefoundPair>& pairs, const std::string& made);

}  // namespace papillote::bench
