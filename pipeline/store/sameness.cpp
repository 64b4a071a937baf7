#include "pipeline/store/sameness.h"

#include <fmt/format.h>

#include <optional>
#include <set>

#include "pipeline/store/envelopes.h"
#include "pipeline/store/index_rows.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

Failure refused(std::string kind, std::string reason, std::string remedy) {
  return {"store", std::move(kind), std::move(reason), std::move(remedy)};
}

Sameness sameness_in(const Query& row) {
  return {row.text(0), row.text(1), row.text(2), row.text(3), row.text(4), row.text(5)};
}

std::optional<std::int64_t> key_of(Store& store, const std::string& id) {
  Query row(store, "SELECT key FROM envelope WHERE id = ?", id);
  if (!row.next()) return std::nullopt;
  return row.integer(0);
}

// A photograph that shows both, or nothing.
std::string shows_both(Store& store, const std::string& a, const std::string& b) {
  Query row(
      store,
      "SELECT p.path FROM entry x JOIN entry y ON y.photograph = x.photograph JOIN photograph p ON p.key = x.photograph "
      "WHERE x.envelope = (SELECT key FROM envelope WHERE id = ?) AND y.envelope = (SELECT key FROM envelope WHERE id = ?)",
      a, b);
  return row.next() ? row.text(0) : "";
}

std::string standing_verdict(Store& store, std::int64_t newer, std::int64_t earlier) {
  Query row(store, "SELECT verdict FROM sameness WHERE newer = ? AND earlier = ? ORDER BY key DESC LIMIT 1", newer, earlier);
  return row.next() ? row.text(0) : std::string(kTakenBack);
}

void write(Store& store, std::int64_t newer, std::int64_t earlier, const Sameness& sameness) {
  Query(store, "INSERT INTO sameness(newer, earlier, verdict, who, at, note) VALUES(?, ?, ?, ?, ?, ?)", newer, earlier,
        sameness.verdict, sameness.who, sameness.when, sameness.note)
      .run();
}

// Brings everything in step with what `envelope` now counts as: ids that lead to it, entries, search rows.
void follow(Store& store, std::int64_t envelope) {
  // It, and what was confirmed to be it.
  std::vector<std::int64_t> keys{envelope};
  for (std::size_t i = 0; i < keys.size(); ++i) {
    Query row(store, "SELECT DISTINCT newer FROM sameness WHERE earlier = ?", keys[i]);
    while (row.next())
      if (standing_verdict(store, row.integer(0), keys[i]) == kSame) keys.push_back(row.integer(0));
  }
  const std::int64_t now = counts_as(store, envelope);
  std::set<std::int64_t> photographs;
  for (const std::int64_t key : keys) {
    // Its own id, and those of outlines that stand for it.
    Query(store,
          "UPDATE envelope SET joined_to = CASE WHEN key = ?1 THEN NULL ELSE ?1 END "
          "WHERE (key = ?2 AND NOT EXISTS (SELECT 1 FROM view WHERE own = ?2 AND stands_for <> ?2)) "
          "OR key IN (SELECT own FROM view WHERE stands_for = ?2)",
          now, key)
        .run();
    Query row(store, "SELECT p.key FROM view v JOIN photograph p ON p.sha256 = v.sha256 WHERE v.stands_for = ?", key);
    while (row.next()) photographs.insert(row.integer(0));
  }
  for (const std::int64_t photograph : photographs) settle_photograph(store, photograph);
}

Result<Done> take_back(Store& store, std::int64_t newer, std::int64_t earlier, const Sameness& sameness) {
  const std::string verdict = standing_verdict(store, newer, earlier);
  if (verdict == kTakenBack)
    return refused("nothing_to_take_back",
                   fmt::format("Nothing is settled about {} and {}.", sameness.newer_id, sameness.earlier_id),
                   "Name the two as they were named when it was settled.");
  write(store, newer, earlier, sameness);
  if (verdict == kSame) follow(store, newer);
  return Done{};
}

Result<Done> settle(Store& store, const Sameness& sameness) {
  for (const std::string& id : {sameness.newer_id, sameness.earlier_id})
    if (!key_of(store, id))
      return refused("unknown_envelope", fmt::format("{}: no envelope has this id.", id),
                     "Check the id; nothing was recorded.");
  if (sameness.verdict == kTakenBack)
    return take_back(store, *key_of(store, sameness.newer_id), *key_of(store, sameness.earlier_id), sameness);

  const std::string newer = current_id(store, sameness.newer_id).value(),
                    earlier = current_id(store, sameness.earlier_id).value();
  if (newer == earlier)
    return refused("already", fmt::format("{} and {} are one envelope already.", sameness.newer_id, sameness.earlier_id),
                   "Nothing is to be done.");
  const std::int64_t newer_key = *key_of(store, newer), earlier_key = *key_of(store, earlier);
  if (standing_verdict(store, newer_key, earlier_key) == sameness.verdict)
    return refused("already", fmt::format("{} and {} are settled to be different already.", newer, earlier),
                   "Nothing is to be done.");
  if (sameness.verdict == kSame) {
    const std::string number = catalogue_number_of(store, newer), other = catalogue_number_of(store, earlier);
    if (!number.empty() && !other.empty())
      return refused("two_numbers", fmt::format("{} carries the number {}, {} the number {}.", newer, number, earlier, other),
                     "One of the slips lies by the wrong envelope, or these are two.");
    if (const std::string path = shows_both(store, newer, earlier); !path.empty())
      return refused("on_one_photograph", fmt::format("{} shows both {} and {}.", path, newer, earlier),
                     "These are two envelopes.");
  }
  write(store, newer_key, earlier_key, sameness);
  if (sameness.verdict == kSame) follow(store, newer_key);
  return Done{};
}

}  // namespace

Result<Done> settle_sameness(Store& store, const std::vector<Sameness>& all, bool rehearsed,
                             const std::function<std::optional<Failure>()>& objection) {
  Transaction transaction(store, Durability::full);
  if (objection)
    if (const auto no = objection()) return *no;
  for (const Sameness& sameness : all)
    if (auto settled = settle(store, sameness); !settled.ok()) return settled;
  if (!rehearsed) transaction.commit();
  return Done{};
}

std::vector<Sameness> sameness_history(Store& store) {
  std::vector<Sameness> all;
  Query row(store,
            "SELECT n.id, e.id, s.verdict, s.who, s.at, s.note FROM sameness s JOIN envelope n ON n.key = s.newer "
            "JOIN envelope e ON e.key = s.earlier ORDER BY s.key");
  while (row.next()) all.push_back(sameness_in(row));
  return all;
}

std::vector<Sameness> standing_sameness(Store& store) {
  std::vector<Sameness> all;
  Query row(store,
            "SELECT n.id, e.id, s.verdict, s.who, s.at, s.note FROM sameness s JOIN envelope n ON n.key = s.newer "
            "JOIN envelope e ON e.key = s.earlier WHERE s.verdict <> 'taken back' AND NOT EXISTS "
            "(SELECT 1 FROM sameness t WHERE t.newer = s.newer AND t.earlier = s.earlier AND t.key > s.key) ORDER BY s.key");
  while (row.next()) all.push_back(sameness_in(row));
  return all;
}

std::vector<std::string> photographs_under(Store& store, const std::string& id) {
  std::vector<std::string> paths;
  Query row(store,
            "SELECT p.path FROM envelope e JOIN view v ON v.stands_for = e.key JOIN photograph p ON p.sha256 = v.sha256 "
            "WHERE e.id = ? ORDER BY p.key",
            id);
  while (row.next()) paths.push_back(row.text(0));
  return paths;
}

}  // namespace papillote::store
