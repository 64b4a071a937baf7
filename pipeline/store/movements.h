// Where each envelope has been: append-only.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/store/store.h"

namespace papillote::store {

inline constexpr std::array<std::string_view, 10> kMovementKinds{"captured", "picked",    "frozen", "relaxing", "on_board",
                                                                 "drying",   "repapered", "housed", "returned", "missing"};

struct Movement {
  std::string envelope_id;
  std::string kind;  // one of kMovementKinds
  std::string who;
  std::string when;   // ISO 8601 instant, from the caller
  std::string where;  // tin, board, drawer
  std::string note;

  bool operator==(const Movement&) const = default;
};

// All or none; on the disk when it returns. Failures: "unknown_envelope", "unknown_movement".
[[nodiscard]] Result<Done> record_movements(Store&, const std::vector<Movement>&);

[[nodiscard]] std::vector<Movement> movements_of(Store&, const std::string& envelope_id);   // oldest first
[[nodiscard]] std::optional<Movement> whereabouts(Store&, const std::string& envelope_id);  // the last one recorded

}  // namespace papillote::store
