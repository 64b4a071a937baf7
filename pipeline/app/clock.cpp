#include "pipeline/app/clock.h"

#include <ctime>

#include <fmt/chrono.h>

namespace papillote::app {

std::string now_utc() { return fmt::format("{:%FT%TZ}", fmt::gmtime(std::time(nullptr))); }

}  // namespace papillote::app
