// Pixels of the photographs in a collection, for pages and thumbnails.
#pragma once

#include <string>

#include "pipeline/bench/photo_source.h"
#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::app {

// The file of a photograph, as long as it is the one that was processed.
[[nodiscard]] Result<std::string> processed_bytes(store::Store&, const Photo&);

// Decodes one photograph at a time and keeps the last; one that cannot be had is said once on stderr.
// The store must outlive what is returned.
[[nodiscard]] bench::PhotoSource photo_pixels(store::Store&);

}  // namespace papillote::app
