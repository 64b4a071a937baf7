#include "pipeline/store/movements.h"

#include <algorithm>

#include <fmt/format.h>

#include "pipeline/store/envelopes.h"
#include "pipeline/store/inside.h"

namespace papillote::store {

Result<Done> record_movements(Store& store, const std::vector<Movement>& movements) {
  Transaction transaction(store, Durability::full);
  for (const Movement& movement : movements) {
    if (std::find(kMovementKinds.begin(), kMovementKinds.end(), movement.kind) == kMovementKinds.end())
      return Failure{"store", "unknown_movement", fmt::format("'{}' is no movement that is kept.", movement.kind), "See the list in the help."};
    const auto id = current_id(store, movement.envelope_id);
    if (!id)
      return Failure{"store", "unknown_envelope", fmt::format("No envelope is known as {}.", movement.envelope_id), "Check the number that was typed or scanned."};
    with_database(store, [&](SQLite::Database& database) {
      SQLite::Statement keep(database, "INSERT INTO movement (envelope_id, kind, who, at, place, note) VALUES (?, ?, ?, ?, ?, ?)");
      keep.bind(1, *id);
      keep.bind(2, movement.kind);
      keep.bind(3, movement.who);
      keep.bind(4, movement.when);
      keep.bind(5, movement.where);
      keep.bind(6, movement.note);
      keep.exec();
    });
  }
  transaction.commit();
  return Done{};
}

std::vector<Movement> movements_of(Store& store, const std::string& envelope_id) {
  return with_database(store, [&](SQLite::Database& database) {
    std::vector<Movement> movements;
    // What happened under an id that was joined to this one happened to this envelope.
    SQLite::Statement find(database,
                           "SELECT envelope_id, kind, who, at, place, note FROM movement "
                           "WHERE envelope_id = ?1 OR envelope_id IN (SELECT old_id FROM joined WHERE new_id = ?1) ORDER BY number");
    find.bind(1, envelope_id);
    while (find.executeStep())
      movements.push_back({find.getColumn(0).getString(), find.getColumn(1).getString(), find.getColumn(2).getString(),
                           find.getColumn(3).getString(), find.getColumn(4).getString(), find.getColumn(5).getString()});
    return movements;
  });
}

std::optional<Movement> whereabouts(Store& store, const std::string& envelope_id) {
  const auto all = movements_of(store, envelope_id);
  if (all.empty()) return std::nullopt;
  return all.back();
}

}  // namespace papillote::store
