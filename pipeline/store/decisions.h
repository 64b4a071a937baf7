// What people settled: append-only, never overwritten by the machine, never deleted.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/store/index.h"
#include "pipeline/store/store.h"

namespace papillote::store {

// Terms that are no field of a record. kConfirmed: the envelope was read through and holds as it stood; its value is an object of
// the terms that had one then. kChecked: a second person agreed. kFindingTerm + kind: 0 = there is no such damage, 1 to 4 = its
// severity. kPriorityTerm: a level of kLevels, whatever the rules say.
inline constexpr std::string_view kConfirmed = "confirmed";
inline constexpr std::string_view kChecked = "checked";
inline constexpr std::string_view kFindingTerm = "finding:";
inline constexpr std::string_view kPriorityTerm = "priority";

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

// All or none. `objection` is asked once nobody else can write any more: what it answers is handed on, and nothing is recorded.
[[nodiscard]] Result<Done> decide_together(Store&, const std::vector<Decision>&, const std::function<std::optional<Failure>()>& objection);

[[nodiscard]] std::vector<Decision> history_of(Store&, const std::string& envelope_id);    // oldest first
[[nodiscard]] std::vector<Decision> decisions_of(Store&, const std::string& envelope_id);  // the latest per term that stands

// Decisions whose envelope is no longer found on any photograph.
[[nodiscard]] std::vector<Decision> orphans(Store&);

// The record as people settled it: each decided claim has confidence 1 and says by whom.
[[nodiscard]] IndexRecord with_decisions(IndexRecord, const std::vector<Decision>&);

// Whether a person settled the claim that gives these reasons.
[[nodiscard]] bool is_settled(const std::vector<std::string>& reasons);

}  // namespace papillote::store
