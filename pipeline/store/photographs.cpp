#include "pipeline/store/photographs.h"

#include <filesystem>
#include <set>

#include "pipeline/record/codec.h"
#include "pipeline/store/index_rows.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

std::int64_t folder_key(Store& store, const std::string& path) {
  Query(store, "INSERT INTO folder(path) VALUES(?) ON CONFLICT DO NOTHING", path).run();
  Query row(store, "SELECT key FROM folder WHERE path = ?", path);
  (void)row.next();
  return row.integer(0);
}

}  // namespace

std::vector<KnownPhotograph> take_up(Store& store, const std::string& folder, const std::vector<std::string>& paths) {
  const std::int64_t in = folder_key(store, folder);
  std::vector<KnownPhotograph> all;
  all.reserve(paths.size());
  for (const std::string& path : paths) {
    Query(store, "INSERT INTO photograph(folder, path) VALUES(?, ?) ON CONFLICT DO NOTHING", in, path).run();
    Query row(store,
              "SELECT key, size_bytes, modified_ns, sha256, missing, failure, in_hand, crashes, outcome IS NOT NULL "
              "FROM photograph WHERE folder = ? AND path = ?",
              in, path);
    (void)row.next();
    KnownPhotograph known;
    known.key = row.integer(0);
    known.path = path;
    if (!row.is_null(1)) known.facts = FileFacts{row.integer(1), row.integer(2)};
    known.sha256.hex = row.text(3);
    known.missing = row.small(4) != 0;
    if (!row.is_null(5)) known.failure = nlohmann::json::parse(row.text(5)).get<Failure>();
    known.left_in_hand = row.small(6);
    known.crashes = row.small(7);
    known.settled = row.small(8) != 0;
    all.push_back(std::move(known));
  }
  return all;
}

void keep_facts(Store& store, std::int64_t photograph, const FileFacts& facts, const Digest& sha256) {
  Query(store, "UPDATE photograph SET size_bytes = ?, modified_ns = ?, sha256 = ?, missing = 0 WHERE key = ?", facts.size_bytes,
        facts.modified_ns, sha256.hex, photograph)
      .run();
}

void keep_unreadable(Store& store, std::int64_t photograph, const Failure& failure) {
  Query(store, "UPDATE photograph SET failure = ?, outcome = NULL, size_bytes = NULL, in_hand = 0 WHERE key = ?",
        nlohmann::json(failure).dump(), photograph)
      .run();
}

void begin_attempt(Store& store, std::int64_t photograph) {
  Query(store, "UPDATE photograph SET in_hand = in_hand + 1 WHERE key = ?", photograph).run();
}

void count_crash(Store& store, const std::string& folder, const std::string& path) {
  Query(store,
        "UPDATE photograph SET crashes = crashes + 1 WHERE path = ? AND folder = (SELECT key FROM folder WHERE path = ?)", path,
        folder)
      .run();
}

void forget_crashes(Store& store, std::int64_t photograph) {
  Query(store, "UPDATE photograph SET crashes = 0 WHERE key = ?", photograph).run();
}

void settle_missing(Store& store, const std::string& folder, const std::vector<std::string>& seen) {
  const std::int64_t in = folder_key(store, folder);
  const std::set<std::string> here(seen.begin(), seen.end());
  struct Row {
    std::int64_t key;
    std::string sha256;
    bool missing;
  };
  std::vector<Row> gone;
  Query rows(store,
             "SELECT p.key, p.folder, p.path, p.sha256, p.missing, f.path FROM photograph p JOIN folder f ON f.key = p.folder");
  while (rows.next()) {
    const std::string path = rows.text(2);
    if (rows.integer(1) == in) {
      if (!here.contains(path)) gone.push_back({rows.integer(0), rows.text(3), rows.small(4) != 0});
      continue;
    }
    // Under another folder: gone, or the same file seen through an outer or inner folder.
    const std::filesystem::path other = std::filesystem::path(rows.text(5)) / path;
    const std::filesystem::path relative = other.lexically_relative(folder);
    std::error_code error;
    if (here.contains(relative.generic_string()) || !std::filesystem::exists(other, error))
      gone.push_back({rows.integer(0), rows.text(3), rows.small(4) != 0});
  }
  for (const Row& row : gone) {
    bool moved = false;
    if (!row.sha256.empty()) {
      Query twin(store, "SELECT path FROM photograph WHERE sha256 = ? AND folder = ? AND key <> ? AND outcome IS NOT NULL",
                 row.sha256, in, row.key);
      while (!moved && twin.next()) moved = here.contains(twin.text(0));
    }
    if (moved) {
      remove_index(store, row.key);
      Query(store, "DELETE FROM photograph WHERE key = ?", row.key).run();
    } else if (!row.missing) {
      Query(store, "UPDATE photograph SET missing = 1 WHERE key = ?", row.key).run();
    }
  }
}

std::optional<std::filesystem::path> file_of(Store& store, const std::string& path) {
  Query row(store,
            "SELECT f.path FROM photograph p JOIN folder f ON f.key = p.folder WHERE p.path = ? ORDER BY p.missing, p.folder",
            path);
  if (!row.next()) return std::nullopt;
  return std::filesystem::path(row.text(0)) / path;
}

std::optional<std::int64_t> key_of_photograph(Store& store, const std::string& path) {
  Query row(store, "SELECT key FROM photograph WHERE path = ? ORDER BY missing, folder", path);
  if (!row.next()) return std::nullopt;
  return row.integer(0);
}

std::vector<StandingFailure> standing_failures(Store& store) {
  std::vector<StandingFailure> all;
  Query row(store, "SELECT path, failure FROM photograph WHERE failure IS NOT NULL ORDER BY path, folder");
  while (row.next()) all.push_back({row.text(0), nlohmann::json::parse(row.text(1)).get<Failure>()});
  return all;
}

Totals totals(Store& store) {
  Totals t;
  Query photographs(store,
                    "SELECT count(*), coalesce(sum(failure IS NOT NULL), 0), coalesce(sum(missing), 0), "
                    "coalesce(sum(calibration ->> '$.quality.verdict' = 'retake'), 0) FROM photograph");
  if (photographs.next()) {
    t.photographs = photographs.small(0);
    t.failed = photographs.small(1);
    t.missing = photographs.small(2);
    t.retake = photographs.small(3);
  }
  Query tins(store, "SELECT tin, count(*) FROM search_row GROUP BY tin ORDER BY min(shelf)");
  while (tins.next()) t.tins.emplace_back(tins.text(0), tins.small(1));
  Query levels(store, "SELECT level, count(*) FROM search_row GROUP BY level ORDER BY max(score) DESC");
  while (levels.next()) {
    t.levels.emplace_back(levels.text(0), levels.small(1));
    t.envelopes += levels.small(1);
  }
  Query orphaned(store,
                 "SELECT count(*) FROM decision d JOIN envelope e ON e.key = d.envelope "
                 "WHERE NOT EXISTS (SELECT 1 FROM entry WHERE envelope = coalesce(e.joined_to, e.key))");
  if (orphaned.next()) t.orphaned_decisions = orphaned.small(0);
  return t;
}

}  // namespace papillote::store
