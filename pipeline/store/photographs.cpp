#include "pipeline/store/photographs.h"

#include <filesystem>
#include <set>

#include "pipeline/record/codec.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/entries.h"
#include "pipeline/store/inside.h"

namespace papillote::store {
namespace {

std::optional<Failure> failure_in(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return nlohmann::json::parse(column.getString()).get<Failure>();
}

}  // namespace

std::vector<KnownPhotograph> take_up(Store& store, const std::string& folder, const std::vector<std::string>& paths) {
  return with_database(store, [&](SQLite::Database& database) {
    // What is still in hand was left there by a batch that ended without a word.
    database.exec("UPDATE photograph SET left_in_hand = left_in_hand + 1, in_hand = 0 WHERE in_hand = 1");
    SQLite::Statement add(database, "INSERT OR IGNORE INTO photograph (folder, path) VALUES (?, ?)");
    SQLite::Statement find(database,
                           "SELECT key, size_bytes, modified_ns, sha256, missing, failure, left_in_hand, crashes FROM photograph "
                           "WHERE folder = ? AND path = ?");
    std::vector<KnownPhotograph> known;
    known.reserve(paths.size());
    for (const std::string& path : paths) {
      add.reset();
      add.bind(1, folder);
      add.bind(2, path);
      add.exec();
      find.reset();
      find.bind(1, folder);
      find.bind(2, path);
      find.executeStep();
      KnownPhotograph photograph;
      photograph.key = find.getColumn(0).getInt64();
      photograph.path = path;
      if (!find.getColumn(1).isNull()) photograph.facts = FileFacts{find.getColumn(1).getInt64(), find.getColumn(2).getInt64()};
      photograph.sha256.hex = find.getColumn(3).getString();
      photograph.missing = find.getColumn(4).getInt() != 0;
      photograph.failure = failure_in(find.getColumn(5));
      photograph.left_in_hand = find.getColumn(6).getInt();
      photograph.crashes = find.getColumn(7).getInt();
      known.push_back(std::move(photograph));
    }
    return known;
  });
}

void keep_facts(Store& store, std::int64_t photograph, const FileFacts& facts, const Digest& sha256) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement keep(database, "UPDATE photograph SET size_bytes = ?, modified_ns = ?, sha256 = ?, missing = 0 WHERE key = ?");
    keep.bind(1, facts.size_bytes);
    keep.bind(2, facts.modified_ns);
    keep.bind(3, sha256.hex);
    keep.bind(4, photograph);
    keep.exec();
  });
}

void begin_attempt(Store& store, std::int64_t photograph) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement begin(database, "UPDATE photograph SET in_hand = 1 WHERE key = ?");
    begin.bind(1, photograph);
    begin.exec();
  });
}

void count_crash(Store& store, const std::string& folder, const std::string& path) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement count(database, "UPDATE photograph SET crashes = crashes + 1 WHERE folder = ? AND path = ?");
    count.bind(1, folder);
    count.bind(2, path);
    count.exec();
  });
}

void settle_missing(Store& store, const std::string& folder, const std::vector<std::string>& seen) {
  with_database(store, [&](SQLite::Database& database) {
    const std::set<std::string> there(seen.begin(), seen.end());
    SQLite::Statement find(database, "SELECT key, path, sha256 FROM photograph WHERE folder = ? AND missing = 0");
    find.bind(1, folder);
    std::vector<std::pair<std::int64_t, std::string>> gone;
    while (find.executeStep())
      if (!there.contains(find.getColumn(1).getString())) gone.emplace_back(find.getColumn(0).getInt64(), find.getColumn(2).getString());
    for (const auto& [key, sha256] : gone) {
      SQLite::Statement other(database, "SELECT 1 FROM photograph WHERE sha256 = ? AND key <> ? AND missing = 0 AND sha256 <> ''");
      other.bind(1, sha256);
      other.bind(2, key);
      const bool moved = other.executeStep();
      if (moved) clear_entries(database, key);
      SQLite::Statement change(database, moved ? "DELETE FROM photograph WHERE key = ?" : "UPDATE photograph SET missing = 1 WHERE key = ?");
      change.bind(1, key);
      change.exec();
    }
  });
}

std::optional<std::filesystem::path> file_of(Store& store, const std::string& path) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<std::filesystem::path> {
    SQLite::Statement find(database, "SELECT folder FROM photograph WHERE path = ? ORDER BY missing, key");
    find.bind(1, path);
    if (!find.executeStep()) return std::nullopt;
    return std::filesystem::path(find.getColumn(0).getString()) / path;
  });
}

std::optional<std::int64_t> key_of_photograph(Store& store, const std::string& path) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<std::int64_t> {
    SQLite::Statement find(database, "SELECT key FROM photograph WHERE path = ? ORDER BY missing, key");
    find.bind(1, path);
    if (!find.executeStep()) return std::nullopt;
    return find.getColumn(0).getInt64();
  });
}

std::vector<StandingFailure> standing_failures(Store& store) {
  return with_database(store, [&](SQLite::Database& database) {
    std::vector<StandingFailure> failures;
    SQLite::Statement find(database, "SELECT path, failure FROM photograph WHERE failure IS NOT NULL ORDER BY path, key");
    while (find.executeStep()) failures.push_back({find.getColumn(0).getString(), *failure_in(find.getColumn(1))});
    return failures;
  });
}

Totals totals(Store& store) {
  Totals totals = with_database(store, [&](SQLite::Database& database) {
    Totals all;
    const auto number = [&](const char* query) { return database.execAndGet(query).getInt(); };
    all.photographs = number("SELECT count(*) FROM photograph");
    all.failed = number("SELECT count(*) FROM photograph WHERE failure IS NOT NULL");
    all.missing = number("SELECT count(*) FROM photograph WHERE missing = 1");
    all.retake = number("SELECT count(*) FROM photograph WHERE retake = 1");
    all.envelopes = number("SELECT count(DISTINCT id) FROM entry");
    const auto listed = [&](const char* query) {
      std::vector<std::pair<std::string, int>> rows;
      SQLite::Statement find(database, query);
      while (find.executeStep()) rows.emplace_back(find.getColumn(0).getString(), find.getColumn(1).getInt());
      return rows;
    };
    all.tins = listed("SELECT tin, count(DISTINCT id) FROM entry GROUP BY tin ORDER BY tin");
    all.levels = listed("SELECT level, count(*) FROM (SELECT level, max(score) FROM entry GROUP BY id) GROUP BY level ORDER BY level");
    return all;
  });
  totals.orphaned_decisions = static_cast<int>(orphans(store).size());
  return totals;
}

}  // namespace papillote::store
