// The time of day, for what is written down by commands; stages never see it.
#pragma once

#include <string>

namespace papillote::app {

[[nodiscard]] std::string now_utc();  // "2026-11-25T08:30:00Z"

}  // namespace papillote::app
