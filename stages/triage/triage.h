// Triage: who needs attention first, with reasons in words.
//
// Four levels, in this order: "isolate" (signs of live pest or mould), "stabilise" (serious damage),
// "valuable" (type words, rare, old or wanted material), "routine". What counts and how much says rules.h.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/storage.h"
#include "pipeline/record/text.h"
#include "pipeline/record/verdict.h"
#include "stages/triage/rules.h"

namespace papillote::triage {

inline constexpr Stage stage{"triage", 4};

// How many envelopes of the index say the same; 0 = not known.
struct Spread {
  int same_place = 0;
  int same_decade = 0;
  int same_taxon = 0;
  int placed = 0;  // envelopes with a place at all
  int dated = 0;
  int named = 0;
};

// What only the collection as a whole can say of an envelope.
struct Surroundings {
  std::vector<StorageSign> storage;  // of its tin
  Spread spread;
};

[[nodiscard]] Result<Triage> rank(const Annotation&, const Interpretation&, const Condition&, const Rules&,
                                  const Surroundings& = {});

// The decade of an EDTF date whose confidence and precision allow one: 1890 for "1897-05" or "189X"; nothing else.
[[nodiscard]] std::optional<int> decade_of(const std::optional<Claim<std::string>>& date);

}  // namespace papillote::triage
