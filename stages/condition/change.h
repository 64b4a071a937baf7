// Change over time: the same envelope in an earlier and a later photograph.
//
// Two photographs differ in light, turn and scale, and the net's marks with them. So the later picture is laid on the earlier
// one over the upright envelope, the slow change of light between them is taken out, and only what then differs more than a
// wandering outline can explain counts: a finding grew where its region differs, and what differs without a finding that grew
// becomes one of its own, of the kind "changed".
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/index_record.h"
#include "pipeline/record/stage.h"

namespace papillote::condition {

inline constexpr Stage change_stage{"change", 3};
inline constexpr std::string_view kChanged = "changed";

// One envelope in one photograph.
struct Look {
  const IndexRecord& record;
  const image::Image& photo;
};

// The findings of `now`, with `grown_since` = `taken_then` at each that grew, and what else changed. As they are, where the two
// cannot be compared: one was not judged, or the paper has another outline now.
[[nodiscard]] std::vector<Finding> grown_findings(const Look& now, const Look& then, const std::string& taken_then);

// Which envelopes of two photographs of one sheet are the same: by catalogue number, else by size and what is written on them;
// an envelope without writing by its place on a sheet of as many. Pairs of places in `then` and `now`.
[[nodiscard]] std::vector<std::pair<std::size_t, std::size_t>> same_envelopes(const std::vector<IndexRecord>& then,
                                                                              const std::vector<IndexRecord>& now);

}  // namespace papillote::condition
