// Where each envelope has been: append-only. What cannot have happened is refused in the same breath in which it would be
// written, so that no two people put one specimen in two places.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/store/store.h"

namespace papillote::store {

inline constexpr std::array<std::string_view, 11> kMovementKinds{
    "captured", "picked", "frozen", "relaxing", "on_board", "drying", "repapered", "housed", "returned", "missing", "found"};

struct Movement {
  std::string envelope_id;
  std::string kind;  // one of kMovementKinds
  std::string who;
  std::string when;   // ISO 8601 instant, from the caller
  std::string where;  // tin, board, drawer
  std::string note;
  bool corrects = false;  // the movement before it was recorded by mistake; both stay in the history

  bool operator==(const Movement&) const = default;
};

// All or none; on the disk when it returns. Failures: "unknown_envelope", "unknown_movement", "unclear_note", those of
// `objection`, and what `also` says in the same breath in which it would be written.
[[nodiscard]] Result<Done> record_movements(Store&, const std::vector<Movement>&,
                                            const std::function<std::optional<Failure>()>& also = {});

[[nodiscard]] std::vector<Movement> movements_of(Store&, const std::string& envelope_id);   // oldest first
[[nodiscard]] std::optional<Movement> whereabouts(Store&, const std::string& envelope_id);  // the last one recorded

// Without those that a later one set right.
[[nodiscard]] std::vector<Movement> holding(const std::vector<Movement>& history);

// In its tin: never moved, only photographed, or brought back.
[[nodiscard]] bool in_its_tin(const std::optional<Movement>& last);

// Why `next` cannot have happened after `history` (oldest first), in a sentence. Failures: "already" when it is recorded so;
// "impossible"; "no_place" for a house without one; "nothing_to_correct".
[[nodiscard]] std::optional<Failure> objection(const std::vector<Movement>& history, const Movement& next);

struct Followed {
  std::string id;
  std::string catalogue_number;
  std::string tin, sheet;
  bool indexed = false;           // found on some photograph
  std::vector<Movement> history;  // oldest first, with those of envelopes joined to it
};
// Every envelope that is in the index or was ever moved, by tin, sheet and position.
void for_each_followed(Store&, const std::function<void(const Followed&)>& take);

}  // namespace papillote::store
