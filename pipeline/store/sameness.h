// What people settled about envelopes that were photographed again: one record or two. Append-only.
//
// Confirmed, the newer envelope's photographs become views of the earlier one; its id leads there, what was decided and
// recorded of it goes along. Taken back, each has again what was its own. The machine never joins by itself what looks alike.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/store/store.h"

namespace papillote::store {

inline constexpr std::string_view kSame = "same", kOther = "other", kTakenBack = "taken back";

struct Sameness {
  std::string newer_id, earlier_id;  // as they were when it was settled
  std::string verdict;               // kSame, kOther, kTakenBack
  std::string who;
  std::string when;  // ISO 8601 instant, from the caller
  std::string note;

  bool operator==(const Sameness&) const = default;
};

// All or none; on the disk, and in the index, when it returns. Failures: "unknown_envelope", "already", "two_numbers" (each has
// a catalogue number of its own), "on_one_photograph", "nothing_to_take_back". `rehearsed`: says what it would answer and keeps
// nothing. `objection` is asked once nobody else can write any more: what it answers is handed on, and nothing is recorded.
[[nodiscard]] Result<Done> settle_sameness(Store&, const std::vector<Sameness>&, bool rehearsed = false,
                                           const std::function<std::optional<Failure>()>& objection = {});

[[nodiscard]] std::vector<Sameness> sameness_history(Store&);   // oldest first
[[nodiscard]] std::vector<Sameness> standing_sameness(Store&);  // the latest of each pair, unless it was taken back

// Paths of the photographs that show the envelope under this id, whatever it was confirmed to be.
[[nodiscard]] std::vector<std::string> photographs_under(Store&, const std::string& id);

}  // namespace papillote::store
