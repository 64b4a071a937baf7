// What was found on each photograph, for a look: outlines, lines of annotation with kind and reading order, findings.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/bench/photo_source.h"
#include "pipeline/record/index_record.h"

namespace papillote::bench {

struct FoundMap {
  PhotoIndex index;
  Picture picture;  // may be empty
};

[[nodiscard]] FoundMap found_map(const PhotoIndex& index, const PhotoSource& pixels);

// A landscape page per photograph.
[[nodiscard]] std::string found_maps_pdf(const std::vector<FoundMap>& maps, const std::string& made);

}  // namespace papillote::bench
