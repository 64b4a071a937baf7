#include "pipeline/store/decisions.h"

#include <map>

#include <fmt/format.h>

#include "pipeline/record/codec.h"
#include "pipeline/store/entries.h"
#include "pipeline/store/inside.h"

namespace papillote::store {
namespace {

constexpr const char* kColumns = "envelope_id, term, value, who, at, note, first_day, last_day";

std::vector<Decision> rows_of(SQLite::Statement& find) {
  std::vector<Decision> decisions;
  while (find.executeStep()) {
    Decision decision{find.getColumn(0).getString(), find.getColumn(1).getString(), find.getColumn(2).getString(), find.getColumn(3).getString(),
                      find.getColumn(4).getString(), find.getColumn(5).getString(), std::nullopt};
    if (!find.getColumn(6).isNull()) decision.days = DayRange{find.getColumn(6).getInt(), find.getColumn(7).getInt()};
    decisions.push_back(std::move(decision));
  }
  return decisions;
}

template <class Value>
void settle(std::optional<Claim<Value>>& claim, const Decision& decision) {
  const auto value = nlohmann::json::parse(decision.value);
  if (value.is_null()) {
    claim.reset();
    return;
  }
  if (!claim) claim.emplace();
  if (claim->value) claim->alternatives.insert(claim->alternatives.begin(), {*claim->value, claim->confidence});
  claim->value = value.get<Value>();
  claim->confidence = 1;
  claim->reasons = {fmt::format("settled by {} on {}", decision.who, decision.when)};
}

}  // namespace

void decide(Store& store, const Decision& decision) {
  Transaction transaction(store, Durability::full);
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement keep(database, fmt::format("INSERT INTO decision ({}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", kColumns));
    keep.bind(1, decision.envelope_id);
    keep.bind(2, decision.term);
    keep.bind(3, decision.value);
    keep.bind(4, decision.who);
    keep.bind(5, decision.when);
    keep.bind(6, decision.note);
    if (decision.days) {
      keep.bind(7, decision.days->first);
      keep.bind(8, decision.days->last);
    }
    keep.exec();
  });
  refresh_entries(store, decision.envelope_id);
  transaction.commit();
}

std::vector<Decision> history_of(Store& store, const std::string& envelope_id) {
  return with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement find(database, fmt::format("SELECT {} FROM decision WHERE envelope_id = ?1 OR envelope_id IN "
                                                 "(SELECT old_id FROM joined WHERE new_id = ?1) ORDER BY number", kColumns));
    find.bind(1, envelope_id);
    return rows_of(find);
  });
}

std::vector<Decision> decisions_of(Store& store, const std::string& envelope_id) {
  std::map<std::string, Decision> latest;
  for (Decision& decision : history_of(store, envelope_id)) latest.insert_or_assign(decision.term, std::move(decision));
  std::vector<Decision> standing;
  for (auto& [term, decision] : latest)
    if (!decision.value.empty()) standing.push_back(std::move(decision));
  return standing;
}

std::vector<Decision> orphans(Store& store) {
  return with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement find(database, fmt::format("SELECT {} FROM decision WHERE NOT EXISTS (SELECT 1 FROM view WHERE retired = 0 AND "
                                                 "(view.id = envelope_id OR view.own_id = envelope_id)) ORDER BY number", kColumns));
    return rows_of(find);
  });
}

IndexRecord with_decisions(IndexRecord record, const std::vector<Decision>& decisions) {
  for (const Decision& decision : decisions) {
    Interpretation& facts = record.interpretation;
    if (decision.term == "date") settle(facts.date, decision);
    else if (decision.term == "place") settle(facts.place, decision);
    else if (decision.term == "coordinates") settle(facts.coordinates, decision);
    else if (decision.term == "elevation") settle(facts.elevation, decision);
    else if (decision.term == "collector") settle(facts.collector, decision);
    else if (decision.term == "taxon") settle(facts.taxon, decision);
    else if (decision.term == "sex") settle(facts.sex, decision);
    else if (decision.term == "type_status") settle(facts.type_status, decision);
    else if (decision.term == "number") settle(facts.number, decision);
    else if (decision.term == "text") record.annotation.text = nlohmann::json::parse(decision.value).get<std::string>();
  }
  return record;
}

}  // namespace papillote::store
