#include "pipeline/store/results.h"

#include <fmt/format.h>

#include "pipeline/record/codec.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

std::string text_of(const Ingredients& i) {
  return nlohmann::json{{"version", i.version}, {"options", i.options}, {"inputs", i.inputs}}.dump();
}

Ingredients ingredients_of(const std::string& text) {
  const nlohmann::json j = nlohmann::json::parse(text);
  return {j.at("version").get<int>(), j.at("options").get<std::string>(),
          j.at("inputs").get<std::vector<std::pair<std::string, std::string>>>()};
}

}  // namespace

std::optional<KeptAnswer> find_answer(Store& store, const Digest& key) {
  Query row(store, "SELECT body, digest FROM result WHERE key = ?", key.hex);
  if (!row.next()) return std::nullopt;
  return KeptAnswer{row.text(0), {row.text(1)}};
}

std::vector<Standing> standing_steps(Store& store, std::int64_t photograph) {
  std::vector<Standing> steps;
  Query row(store, "SELECT stage, key, ingredients, reason FROM standing WHERE photograph = ? ORDER BY place", photograph);
  while (row.next()) steps.push_back({row.text(0), {row.text(1)}, ingredients_of(row.text(2)), row.text(3)});
  return steps;
}

void keep_answer(Store& store, const Digest& key, std::string_view stage, const std::string& body, const Digest& digest) {
  // Asked again after a failure, the key has an answer already: the new one stands.
  Query(store,
        "INSERT INTO result(key, stage, body, digest) VALUES(?, ?, ?, ?) "
        "ON CONFLICT(key) DO UPDATE SET body = excluded.body, digest = excluded.digest",
        key.hex, stage, body, digest.hex)
      .run();
}

void keep_standing(Store& store, std::int64_t photograph, const std::vector<Standing>& steps) {
  Query(store, "DELETE FROM standing WHERE photograph = ?", photograph).run();
  int place = 0;
  for (const Standing& step : steps)
    Query(store, "INSERT INTO standing(photograph, place, stage, key, ingredients, reason) VALUES(?, ?, ?, ?, ?, ?)",
          photograph, place++, step.stage, step.key.hex, text_of(step.ingredients), step.reason)
        .run();
}

std::vector<std::string> changed_answers(Store& store) {
  std::vector<std::string> changed;
  Query row(store, "SELECT id, stage, digest, body FROM result ORDER BY id");
  while (row.next()) {
    const std::string body = row.text(3);
    const bool same = row.text(1) == "registration" ? nlohmann::json::accept(body) : digest_of(body).hex == row.text(2);
    if (!same) changed.push_back(fmt::format("answer {} of {} is not what its digest says", row.integer(0), row.text(1)));
  }
  return changed;
}

}  // namespace papillote::store
