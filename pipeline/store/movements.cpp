#include "pipeline/store/movements.h"

#include <fmt/format.h>

#include <algorithm>

#include "pipeline/store/sqlite.h"

namespace papillote::store {

Result<Done> record_movements(Store& store, const std::vector<Movement>& movements) {
  Transaction transaction(store, Durability::full);
  for (const Movement& m : movements) {
    if (std::find(kMovementKinds.begin(), kMovementKinds.end(), m.kind) == kMovementKinds.end())
      return Failure{"store", "unknown_movement", fmt::format("'{}' is no movement of an envelope.", m.kind),
                     fmt::format("Say one of: {}.", fmt::join(kMovementKinds, ", "))};
    Query envelope(store, "SELECT key FROM envelope WHERE id = ?", m.envelope_id);
    if (!envelope.next())
      return Failure{"store", "unknown_envelope", fmt::format("{}: no envelope has this id.", m.envelope_id),
                     "Check the id and try again; nothing was recorded."};
    Query(store, "INSERT INTO movement(envelope, kind, who, at, place, note) VALUES(?, ?, ?, ?, ?, ?)", envelope.integer(0),
          m.kind, m.who, m.when, m.where, m.note)
        .run();
  }
  transaction.commit();
  return Done{};
}

std::vector<Movement> movements_of(Store& store, const std::string& envelope_id) {
  std::vector<Movement> all;
  Query row(store,
            "SELECT e.id, m.kind, m.who, m.at, m.place, m.note "
            "FROM envelope asked JOIN envelope e ON coalesce(e.joined_to, e.key) = coalesce(asked.joined_to, asked.key) "
            "JOIN movement m ON m.envelope = e.key WHERE asked.id = ? ORDER BY m.key",
            envelope_id);
  while (row.next()) all.push_back({row.text(0), row.text(1), row.text(2), row.text(3), row.text(4), row.text(5)});
  return all;
}

std::optional<Movement> whereabouts(Store& store, const std::string& envelope_id) {
  std::vector<Movement> all = movements_of(store, envelope_id);
  if (all.empty()) return std::nullopt;
  return std::move(all.back());
}

}  // namespace papillote::store
