// Files that are there whole or not at all.
#pragma once

#include <filesystem>
#include <string_view>

#include "pipeline/record/result.h"

namespace papillote::bench {

// Written beside its place, flushed to the disk, then moved there: a kill or a full disk leaves what was there before.
// Failure "unwritable" names the file.
[[nodiscard]] Result<Done> save(const std::filesystem::path& file, std::string_view bytes);

// Takes away what a save that was killed left beside its place, below `folder`; only where the file itself is there by now.
void sweep(const std::filesystem::path& folder);

}  // namespace papillote::bench
