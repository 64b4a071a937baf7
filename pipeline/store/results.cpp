#include "pipeline/store/results.h"

#include "pipeline/record/codec.h"
#include "pipeline/store/inside.h"

namespace papillote::store {

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Ingredients, version, options, inputs)

std::optional<KeptAnswer> find_answer(Store& store, const Digest& key) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<KeptAnswer> {
    SQLite::Statement find(database, "SELECT body, digest FROM answer WHERE key = ?");
    find.bind(1, key.hex);
    if (!find.executeStep()) return std::nullopt;
    return KeptAnswer{find.getColumn(0).getString(), {find.getColumn(1).getString()}};
  });
}

void keep_answer(Store& store, const Digest& key, std::string_view stage, const std::string& body, const Digest& digest) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement keep(database, "INSERT OR REPLACE INTO answer (key, stage, body, digest) VALUES (?, ?, ?, ?)");
    keep.bind(1, key.hex);
    keep.bind(2, std::string(stage));
    keep.bind(3, body);
    keep.bind(4, digest.hex);
    keep.exec();
  });
}

std::vector<Standing> standing_steps(Store& store, std::int64_t photograph) {
  return with_database(store, [&](SQLite::Database& database) {
    std::vector<Standing> steps;
    SQLite::Statement find(database, "SELECT stage, key, ingredients, reason FROM standing WHERE photograph = ? ORDER BY number");
    find.bind(1, photograph);
    while (find.executeStep())
      steps.push_back({find.getColumn(0).getString(), {find.getColumn(1).getString()},
                       nlohmann::json::parse(find.getColumn(2).getString()).get<Ingredients>(), find.getColumn(3).getString()});
    return steps;
  });
}

void keep_standing(Store& store, std::int64_t photograph, const std::vector<Standing>& steps) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement clear(database, "DELETE FROM standing WHERE photograph = ?");
    clear.bind(1, photograph);
    clear.exec();
    SQLite::Statement keep(database, "INSERT INTO standing (photograph, number, stage, key, ingredients, reason) VALUES (?, ?, ?, ?, ?, ?)");
    for (std::size_t i = 0; i < steps.size(); ++i) {
      keep.reset();
      keep.bind(1, photograph);
      keep.bind(2, static_cast<int>(i));
      keep.bind(3, steps[i].stage);
      keep.bind(4, steps[i].key.hex);
      keep.bind(5, canonical(steps[i].ingredients));
      keep.bind(6, steps[i].reason);
      keep.exec();
    }
  });
}

}  // namespace papillote::store
