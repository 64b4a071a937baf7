// Dates as search compares them: EDTF -> days of the store.
#pragma once

#include "pipeline/store/index.h"
#include "stages/interpretation/edtf.h"

namespace papillote::app {

// The days that the value allows; an open end becomes the store's far end.
[[nodiscard]] store::DayRange days_of(const interpretation::DayBounds&);

}  // namespace papillote::app
