// Private to this room: keeping entries and search rows in step with decisions.
#pragma once

#include <cstdint>

#include "pipeline/store/store.h"

namespace papillote::store {

// Makes the search row of one envelope anew from its entries and decisions; takes it away when there are none.
void refresh_search_row(Store&, std::int64_t envelope);

// The envelope that this one counts as by what people confirmed; itself where they said nothing.
[[nodiscard]] std::int64_t counts_as(Store&, std::int64_t envelope);

// Settles anew which envelopes the entries of a photograph belong to, after people said something about them.
void settle_photograph(Store&, std::int64_t photograph);

// Takes all entries of a photograph out of the index.
void remove_index(Store&, std::int64_t photograph);

}  // namespace papillote::store
