// What people settled: append-only, never overwritten by the machine, never deleted.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/store/index.h"
#include "pipeline/store/store.h"

namespace papillote::store {

struct Decision {
  std::string envelope_id;
  std::string term;   // "date", "place", "collector", "taxon", "text" ...
  std::string value;  // JSON text of the value; "null" = settled that there is none; empty = take back
  std::string who;
  std::string when;  // ISO 8601 instant, from the caller
  std::string note;
  std::optional<DayRange> days;  // for a date: the days it allows

  bool operator==(const Decision&) const = default;
};

// On the disk when it returns, and in the search index. Throws Trouble "unknown_envelope", "bad_value".
void decide(Store&, const Decision&);

[[nodiscard]] std::vector<Decision> history_of(Store&, const std::string& envelope_id);    // oldest first
[[nodiscard]] std::vector<Decision> decisions_of(Store&, const std::string& envelope_id);  // the latest per term that stands

// Decisions whose envelope is no longer found on any photograph.
[[nodiscard]] std::vector<Decision> orphans(Store&);

// The record as people settled it: each decided claim has confidence 1 and says by whom.
[[nodiscard]] IndexRecord with_decisions(IndexRecord, const std::vector<Decision>&);

// Whether a person settled the claim that gives these reasons.
[[nodiscard]] bool is_settled(const std::vector<std::string>& reasons);

}  // namespace papillote::store
