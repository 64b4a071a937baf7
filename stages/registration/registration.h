// Registration: a file's bytes -> Photo. Takes the digest and reads the header; decodes nothing.
#pragma once

#include <cstddef>
#include <span>
#include <string>

#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"

namespace papillote::registration {

inline constexpr Stage stage{"registration", 1};

// `path` is relative to the photographs' folder. Failures: "empty", "not_an_image", "truncated", "too_large",
// "unreadable"; each reason begins with `path`.
[[nodiscard]] Result<Photo> register_photo(const std::string& path, std::span<const std::byte> bytes);

}  // namespace papillote::registration
