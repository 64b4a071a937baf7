// Envelopes of a collection that seem to have been photographed before, as questions to a person.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/index_record.h"
#include "pipeline/store/store.h"
#include "stages/registration/refinding.h"

namespace papillote::app {

// One envelope on one photograph.
struct SeenAt {
  Photo photo;
  Sheet sheet;         // empty without a label
  IndexRecord record;  // decisions not applied
};

struct Proposal {
  SeenAt earlier, newer;
  double confidence = 0;
  registration::Likeness likeness;
};

// Below this confidence a pair is not worth a person's look, unless she asks for more.
inline constexpr double kWorthALook = 0.5;

// Likeliest first, of two ids what was settled is asked no more. `every`: all pairs that were compared, not only the likeliest
// of each envelope. Two photographs that cannot show one envelope are not compared: the two sides of a sheet; two sheets of one
// tin taken on one day.
[[nodiscard]] std::vector<Proposal> propose(store::Store&, double least, bool every = false);

}  // namespace papillote::app
