// What a climate logger in or beside a tin wrote down.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote {

// From one reading to the next.
struct ClimateSpell {
  std::int64_t begin_s = 0;  // seconds since 1970-01-01 by the logger's own clock
  double hours = 0;
  double temperature_c = 0;
  double rh_percent = 0;
};

struct Climate {
  std::vector<ClimateSpell> spells;  // in the order of the table; what lies in a gap is in none of them
  std::vector<std::string> remarks;  // gaps, clocks set back, readings left out: in words
};

// Reads the table of a logger: comma, semicolon or tab; decimal point or comma; a title above the head; date and time in one
// column or two; ISO, day.month.year, day/month or month/day (told by the whole column), 12 or 24 hours; °C or °F; humidity in
// percent or as a share. Other columns are passed over. Each reading holds until the next; a clock set back costs one usual
// interval, a wait of more than three usual intervals and six hours is a gap. `name` is the file's, for sentences.
// Failures: "no_columns", "no_readings", "unclear_dates".
[[nodiscard]] Result<Climate> climate_from_table(std::string_view table, const std::string& name);

}  // namespace papillote
