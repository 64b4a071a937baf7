#include "pipeline/app/days.h"

namespace papillote::app {

store::DayRange days_of(const interpretation::DayBounds& bounds) {
  const auto day = [](std::chrono::sys_days date) { return static_cast<int>(date.time_since_epoch().count()); };
  return {bounds.first ? day(*bounds.first) : store::kNoFirstDay, bounds.last ? day(*bounds.last) : store::kNoLastDay};
}

std::optional<store::DayRange> days_of(const Interpretation& facts) {
  if (!facts.date || !facts.date->value) return std::nullopt;
  const auto edtf = interpretation::parse_edtf(*facts.date->value);
  if (!edtf) return std::nullopt;
  const auto bounds = interpretation::day_bounds(*edtf);
  if (!bounds.first && !bounds.last) return std::nullopt;
  return days_of(bounds);
}

}  // namespace papillote::app
