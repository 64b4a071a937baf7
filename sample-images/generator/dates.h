// Collecting dates in the written styles of the trade, each with what it says and what it leaves open.
#pragma once
#include <optional>
#include <string>

#include "gazette.h"
#include "random.h"

namespace papillote::samples {

struct CalendarDay {
  int year, month, day;
};

struct WrittenDate {
  std::string verbatim;
  std::optional<std::string> edtf;  // empty when the words alone cannot settle it
  std::string open_edtf;            // what an honest reader may say without further evidence
  std::string true_edtf;            // the day the scenario means
};

WrittenDate write_date(CalendarDay when, Language language, Random& random);
// Short printed styles, for labels set in type.
WrittenDate write_plain_date(CalendarDay when, Language language, Random& random);
int days_in_month(int year, int month);

}  // namespace papillote::samples
