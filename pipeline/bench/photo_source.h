// Where the pixels of a photograph come from: the index holds none.
#pragma once

#include <functional>
#include <optional>

#include "pipeline/image/image.h"
#include "pipeline/record/photo.h"

namespace papillote::bench {

// Nothing when the photograph is gone or unreadable: pages are then printed without the picture.
using PhotoSource = std::function<std::optional<image::Image>(const Photo&)>;

}  // namespace papillote::bench
