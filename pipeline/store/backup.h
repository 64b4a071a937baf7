// A copy of the store as it stood at one moment, taken while others read and write.
#pragma once

#include <filesystem>

#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::store {

// One file that needs no other beside it, checked as a whole; there whole or not at all, in place of an older one. By SQLite's
// online backup in a single step: a snapshot that a batch neither waits for nor disturbs. Failures: "unwritable", "damaged".
[[nodiscard]] Result<Done> copy_store(Store&, const std::filesystem::path& file);

}  // namespace papillote::store
