// From what a search found to a pick list, and to the movements that printing it records.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/photo_source.h"
#include "pipeline/bench/pick_list.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/search.h"

namespace papillote::bench {

// One entry for each hit, in picking order, at the place on its front photograph, with the picture that shows its writing.
[[nodiscard]] std::vector<PickEntry> picked_from(store::Store&, const std::vector<store::Hit>& hits, const PhotoSource& pixels);

// "picked" for every entry that is in its tin: what is out already cannot be taken twice.
[[nodiscard]] std::vector<store::Movement> movements_for(const std::vector<PickEntry>& entries, const std::string& who,
                                                         const std::string& when, const std::string& note);

}  // namespace papillote::bench
