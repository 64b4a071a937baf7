// The rows that search sees, private to the room.
#pragma once

#include <cstdint>
#include <string>

#include "pipeline/store/inside.h"

namespace papillote::store {

// Takes all entries of a photograph out of the index, words and boxes included.
void clear_entries(SQLite::Database&, std::int64_t photograph);

// Writes the entries of an envelope again, with the decisions that stand.
void refresh_entries(Store&, const std::string& envelope_id);

}  // namespace papillote::store
