// Private to this room: keeping the search rows in step with entries and decisions.
#pragma once

#include <cstdint>

#include "pipeline/store/store.h"

namespace papillote::store {

// Makes the search row of one envelope anew from its entries and decisions; takes it away when there are none.
void refresh_search_row(Store&, std::int64_t envelope);

// Takes all entries of a photograph out of the index.
void remove_index(Store&, std::int64_t photograph);

}  // namespace papillote::store
