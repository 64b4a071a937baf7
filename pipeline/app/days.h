// Dates as search compares them: EDTF -> days of the store.
#pragma once

#include <optional>

#include "pipeline/record/text.h"
#include "pipeline/store/index.h"
#include "stages/interpretation/edtf.h"

namespace papillote::app {

// The days that the value allows; an open end becomes the store's far end.
[[nodiscard]] store::DayRange days_of(const interpretation::DayBounds&);

// Of the date that an envelope's interpretation gives; nothing where it is open.
[[nodiscard]] std::optional<store::DayRange> days_of(const Interpretation&);

}  // namespace papillote::app
