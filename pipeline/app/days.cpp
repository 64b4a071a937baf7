#include "pipeline/app/days.h"

namespace papillote::app {

store::DayRange days_of(const interpretation::DayBounds& bounds) {
  const auto day = [](std::chrono::sys_days date) { return static_cast<int>(date.time_since_epoch().count()); };
  return {bounds.first ? day(*bounds.first) : store::kNoFirstDay, bounds.last ? day(*bounds.last) : store::kNoLastDay};
}

}  // namespace papillote::app
