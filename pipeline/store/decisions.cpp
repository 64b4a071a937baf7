#include "pipeline/store/decisions.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "pipeline/record/codec.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/index_rows.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

constexpr std::string_view kSettledBy = "settled by ";

Decision decision_in(const Query& row) {
  Decision d{row.text(0), row.text(1), row.text(2), row.text(3), row.text(4), row.text(5), std::nullopt};
  if (!row.is_null(6)) d.days = DayRange{row.small(6), row.small(7)};
  return d;
}

template <class Value>
void settle(std::optional<Claim<Value>>& claim, const nlohmann::json& value, const Decision& decision) {
  if (value.is_null()) {
    claim.reset();
    return;
  }
  if (!claim) claim.emplace();
  claim->value = value.get<Value>();
  claim->confidence = 1;
  claim->alternatives.clear();
  claim->reasons = {fmt::format("{}{}, {}", kSettledBy, decision.who, decision.when)};
}

// The caller holds a transaction.
void write(Store& store, const Decision& decision) {
  if (!decision.value.empty() && !nlohmann::json::accept(decision.value))
    throw Trouble({"store", "bad_value", fmt::format("{}: the value for {} is not JSON.", decision.envelope_id, decision.term),
                   "Please report this."});
  // Under the id that was asked for: should it be joined or parted later, the decision goes with it.
  std::int64_t key = 0;
  std::int64_t now = 0;
  {
    Query envelope(store, "SELECT key, coalesce(joined_to, key) FROM envelope WHERE id = ?", decision.envelope_id);
    if (!envelope.next())
      throw Trouble({"store", "unknown_envelope", fmt::format("{}: no envelope has this id.", decision.envelope_id),
                     "Check the id and try again; nothing was recorded."});
    key = envelope.integer(0);
    now = envelope.integer(1);
  }
  Query(store, "INSERT INTO decision(envelope, term, value, first_day, last_day, who, at, note) VALUES(?, ?, ?, ?, ?, ?, ?, ?)",
        key, decision.term, decision.value, decision.days ? std::optional(decision.days->first) : std::nullopt,
        decision.days ? std::optional(decision.days->last) : std::nullopt, decision.who, decision.when, decision.note)
      .run();
  refresh_search_row(store, now);
}

}  // namespace

void decide(Store& store, const Decision& decision) {
  Transaction transaction(store, Durability::full);
  write(store, decision);
  transaction.commit();
}

Result<Done> decide_together(Store& store, const std::vector<Decision>& decisions, const std::function<std::optional<Failure>()>& objection) {
  Transaction transaction(store, Durability::full);
  if (const auto no = objection()) return *no;
  for (const Decision& decision : decisions) write(store, decision);
  transaction.commit();
  return Done{};
}

std::vector<Decision> history_of(Store& store, const std::string& envelope_id) {
  std::vector<Decision> all;
  Query row(store,
            "SELECT e.id, d.term, d.value, d.who, d.at, d.note, d.first_day, d.last_day "
            "FROM envelope asked JOIN envelope e ON coalesce(e.joined_to, e.key) = coalesce(asked.joined_to, asked.key) "
            "JOIN decision d ON d.envelope = e.key WHERE asked.id = ? ORDER BY d.key",
            envelope_id);
  while (row.next()) all.push_back(decision_in(row));
  return all;
}

std::vector<Decision> decisions_of(Store& store, const std::string& envelope_id) {
  std::map<std::string, Decision> latest;
  for (Decision& decision : history_of(store, envelope_id)) latest[decision.term] = std::move(decision);
  std::vector<Decision> standing;
  for (auto& [term, decision] : latest)
    if (!decision.value.empty()) standing.push_back(std::move(decision));
  return standing;
}

std::vector<Decision> orphans(Store& store) {
  std::vector<Decision> all;
  Query row(store,
            "SELECT e.id, d.term, d.value, d.who, d.at, d.note, d.first_day, d.last_day "
            "FROM decision d JOIN envelope e ON e.key = d.envelope "
            "WHERE NOT EXISTS (SELECT 1 FROM entry WHERE envelope = coalesce(e.joined_to, e.key)) ORDER BY d.key");
  while (row.next()) all.push_back(decision_in(row));
  return all;
}

namespace {

void settle(Interpretation& facts, const std::string& term, const nlohmann::json& value, const Decision& decision) {
  if (term == "date") settle(facts.date, value, decision);
  if (term == "place") settle(facts.place, value, decision);
  if (term == "coordinates") settle(facts.coordinates, value, decision);
  if (term == "elevation") settle(facts.elevation, value, decision);
  if (term == "collector") settle(facts.collector, value, decision);
  if (term == "taxon") settle(facts.taxon, value, decision);
  if (term == "sex") settle(facts.sex, value, decision);
  if (term == "type_status") settle(facts.type_status, value, decision);
  if (term == "number") settle(facts.number, value, decision);
}

// 0 = there is none; 1 to 4 = there is, and the worst of it is this severe.
void settle_finding(Condition& condition, const std::string& kind, int severity, const Decision& decision) {
  if (severity == 0) {
    std::erase_if(condition.findings, [&](const Finding& finding) { return finding.kind == kind; });
    return;
  }
  int worst = 0;
  for (const Finding& finding : condition.findings)
    if (finding.kind == kind) worst = std::max(worst, finding.severity);
  for (Finding& finding : condition.findings) {
    if (finding.kind != kind) continue;
    finding.severity = finding.severity == worst ? severity : std::min(finding.severity, severity);
    finding.confidence = 1;
  }
  if (worst == 0) {
    Finding seen;
    seen.kind = kind;
    seen.severity = severity;
    seen.confidence = 1;
    seen.words = fmt::format("seen by {}, {}", decision.who, decision.when);
    condition.findings.push_back(std::move(seen));
  }
}

// The place within the level stays: it still says which of two is the worse.
void settle_priority(Triage& triage, const std::string& level, const Decision& decision) {
  const auto rank = [](std::string_view name) { return static_cast<double>(std::find(kLevels.begin(), kLevels.end(), name) - kLevels.begin()); };
  triage.score += (rank(level) - rank(triage.level)) / static_cast<double>(kLevels.size());
  triage.level = level;
  triage.reasons.insert(triage.reasons.begin(), fmt::format("{}{}, {}{}{}", kSettledBy, decision.who, decision.when,
                                                            decision.note.empty() ? "" : ": ", decision.note));
}

}  // namespace

IndexRecord with_decisions(IndexRecord record, const std::vector<Decision>& decisions) {
  // What was confirmed as a whole comes first: a decision on one term says more.
  for (const Decision& decision : decisions) {
    if (decision.term != kConfirmed) continue;
    const nlohmann::json value = nlohmann::json::parse(decision.value);
    if (!value.is_object()) continue;
    for (const auto& [term, settled] : value.items()) {
      if (term == "text") record.annotation.text = settled.get<std::string>();
      settle(record.interpretation, term, settled, decision);
    }
  }
  for (const Decision& decision : decisions) {
    if (decision.term == kConfirmed) continue;
    const nlohmann::json value = nlohmann::json::parse(decision.value);
    if (decision.term == "text") record.annotation.text = value.is_null() ? "" : value.get<std::string>();
    if (decision.term.starts_with(kFindingTerm) && value.is_number_integer())
      settle_finding(record.condition, decision.term.substr(kFindingTerm.size()), value.get<int>(), decision);
    if (decision.term == kPriorityTerm && value.is_string()) settle_priority(record.triage, value.get<std::string>(), decision);
    settle(record.interpretation, decision.term, value, decision);
  }
  return record;
}

bool is_settled(const std::vector<std::string>& reasons) { return reasons.size() == 1 && reasons[0].starts_with(kSettledBy); }

}  // namespace papillote::store
