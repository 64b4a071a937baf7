#include "pipeline/app/clock.h"

#include <fmt/chrono.h>

#include <ctime>

namespace papillote::app {

std::string now_utc() { return fmt::format("{:%FT%TZ}", fmt::gmtime(std::time(nullptr))); }

}  // namespace papillote::app
