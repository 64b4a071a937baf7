// What the desk borrows from the stages: reading what a person types, places by name, like annotations.
#pragma once

#include <string>

#include "pipeline/review/craft.h"

namespace papillote::app {

// Without a gazetteer places are understood by their coordinates alone.
[[nodiscard]] review::Craft desk_craft(const std::string& collection);

}  // namespace papillote::app
