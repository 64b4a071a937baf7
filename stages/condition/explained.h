// Which signs another kind of damage explains: the corner that an open flap seems to lack, the tear that is the edge of rust.
#pragma once

#include <vector>

#include "stages/condition/detector.h"

namespace papillote::condition {

struct Seen {
  const Detector* detector;
  Sign sign;
};

// Without the signs of which a good part lies on, or within some 2 mm of, a sign that is more likely than not and of a kind that
// their detector names (Detector::explained_by). Both are looked for in the whole of `seen`: an explained sign still explains.
[[nodiscard]] std::vector<Seen> without_explained(const std::vector<Seen>& seen, const View&);

}  // namespace papillote::condition
