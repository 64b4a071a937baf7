// Tins as wholes: what the sheet labels say of them, and the pass over each after its envelopes have been read.
#pragma once

#include <map>
#include <string>

#include "pipeline/record/photo.h"
#include "pipeline/store/store.h"
#include "stages/interpretation/interpretation.h"

namespace papillote::app {

// What the sheet label says of the tin.
[[nodiscard]] interpretation::TinContext tin_context(const Calibration&);

// What stands on each tin for all its envelopes, by the tin's name.
using Headings = std::map<std::string, std::string>;

// Whether a tin has new outcomes, or another heading than when it was last gone through.
[[nodiscard]] bool tins_due(store::Store&, const Headings&);

// Every tin with new outcomes, and all where the headings changed: dittos, headings, centuries, the order of day and month
// (stages/interpretation/tin.h). One transaction a tin, the same result however often it is called or cut short. The store is
// open for a batch. `gazetteer` may be null: a heading then names no place. Returns the number of envelopes that owe something
// to their tin.
int go_through_tins(store::Store&, const interpretation::Options&, const Headings&, const interpretation::Gazetteer* gazetteer);

}  // namespace papillote::app
