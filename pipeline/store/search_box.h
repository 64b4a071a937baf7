// Private to this room: the axis of time in the table search_box.
#pragma once

#include <algorithm>

namespace papillote::store {

// In ten thousand years from 1970, at most a thousand years either way. An R*Tree weighs all its axes alike: in days, envelopes of one day
// from all over the world would lie together, and a question for a place would look through all of them.
[[nodiscard]] inline double time_of(int day) { return std::clamp(day / 3'652'500.0, -0.1, 0.1); }

inline constexpr double kNoTime = -1;  // of an envelope without a date: before all others

}  // namespace papillote::store
