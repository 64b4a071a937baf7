// Tins as wholes: what the sheet labels say of them, and the pass over each after its envelopes have been read.
#pragma once

#include "pipeline/record/photo.h"
#include "pipeline/store/store.h"
#include "stages/interpretation/interpretation.h"

namespace papillote::app {

// What the sheet label says of the tin.
[[nodiscard]] interpretation::TinContext tin_context(const Calibration&);

// Every tin with new outcomes: dittos, centuries, the order of day and month (stages/interpretation/tin.h). One transaction
// a tin, the same result however often it is called or cut short. The store is open for a batch. Returns the number
// of envelopes that owe something to their tin.
int go_through_tins(store::Store&, const interpretation::Options&);

}  // namespace papillote::app
