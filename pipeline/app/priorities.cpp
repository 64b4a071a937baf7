#include "pipeline/app/priorities.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <tuple>

#include "pipeline/app/days.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/record/codec.h"
#include "pipeline/record/containers.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/index.h"
#include "pipeline/store/results.h"
#include "stages/condition/change.h"
#include "stages/triage/storage.h"
#include "stages/triage/triage.h"

namespace papillote::app {
namespace {

namespace fs = std::filesystem;

// The text of the file asked for, or of `usual` in the collection's folder; nothing where neither is there.
struct Table {
  fs::path file;
  std::string text;
};
Result<std::optional<Table>> table_of(const std::string& asked, const std::string& collection, const char* usual) {
  const fs::path file = asked.empty() ? fs::path(collection) / usual : fs::path(asked);
  std::ifstream in(file, std::ios::binary);
  if (!in && asked.empty() && !fs::exists(file)) return std::optional<Table>{};
  std::string text{std::istreambuf_iterator<char>(in), {}};
  if (!in)
    return Failure{"app", "unreadable", fmt::format("{} cannot be read.", file.string()),
                   "See that the file is there and that you may read it."};
  return std::optional(Table{file, std::move(text)});
}

// How often each place, decade and taxon is named in the index.
class Counts {
 public:
  explicit Counts(store::Store& store) {
    store::for_each_said(store, [&](const store::Said& said) {
      if (said.placed && !said.place.empty()) ++places_[{said.place, said.country}], ++placed_;
      if (said.dated) {
        ++dated_;
        if (const auto decade = triage::decade_of(Claim<std::string>{said.date, said.date, 1, {}, {}, {}})) ++decades_[*decade];
      }
      if (!said.taxon.empty()) ++taxa_[said.taxon], ++named_;
    });
  }

  [[nodiscard]] triage::Spread of(const Interpretation& facts) const {
    triage::Spread spread;
    spread.placed = placed_;
    spread.dated = dated_;
    spread.named = named_;
    const auto found = [](const auto& counts, const auto& name) {
      const auto at = counts.find(name);
      return at == counts.end() ? 0 : at->second;
    };
    if (facts.place && facts.place->value)
      spread.same_place = found(places_, std::pair(facts.place->value->name, facts.place->value->country));
    if (const auto decade = triage::decade_of(facts.date)) spread.same_decade = found(decades_, *decade);
    if (facts.taxon && facts.taxon->value) spread.same_taxon = found(taxa_, *facts.taxon->value);
    return spread;
  }

 private:
  std::map<std::pair<std::string, std::string>, int> places_;
  std::map<int, int> decades_;
  std::map<std::string, int> taxa_;
  int placed_ = 0, dated_ = 0, named_ = 0;
};

// A photograph taken before, and which of its envelopes show again in the later one.
struct Earlier {
  Photo photo;
  std::string taken;
  std::vector<std::pair<IndexRecord, std::size_t>> again;  // as it was then; its place in the later photograph
};

// The latest first. Envelopes are known again by catalogue number, or by what a person confirmed, wherever they lay; else on the same
// sheet. A photograph that does not say when it was taken is neither earlier nor later.
std::vector<Earlier> earlier_looks(store::Store& store, const PhotoIndex& now,
                                   const std::vector<store::LabelledPhotograph>& same_sheet) {
  std::map<std::string, Earlier> by_path;
  const auto earlier = [&](const Photo& photo) {
    return !photo.taken.empty() && photo.taken < now.photo.taken && photo.sha256 != now.photo.sha256;
  };
  const auto keep = [&](const Photo& photo, IndexRecord record, std::size_t place) {
    Earlier& look = by_path.try_emplace(photo.path, Earlier{photo, photo.taken, {}}).first->second;
    look.again.emplace_back(std::move(record), place);
  };
  for (const store::LabelledPhotograph& label : same_sheet) {
    if (label.taken.empty() || label.taken >= now.photo.taken) continue;
    const auto then = store::photograph_at(store, label.key);
    if (!then || !earlier(then->index.photo)) continue;
    for (const auto& [i, j] : condition::same_envelopes(then->index.envelopes, now.envelopes))
      if (then->index.envelopes[i].id != now.envelopes[j].id) keep(then->index.photo, then->index.envelopes[i], j);
  }
  const bool back = now.calibration.sheet.value_or(Sheet{}).side == "back";
  for (std::size_t j = 0; j < now.envelopes.size(); ++j) {
    for (store::EnvelopeView& view : store::views_of(store, now.envelopes[j].id))
      if (earlier(view.photo) && (view.calibration.sheet.value_or(Sheet{}).side == "back") == back) keep(view.photo, std::move(view.record), j);
  }
  std::vector<Earlier> looks;
  for (auto& [path, look] : by_path) looks.push_back(std::move(look));
  std::stable_sort(looks.begin(), looks.end(), [](const Earlier& a, const Earlier& b) { return a.taken > b.taken; });
  return looks;
}

bool any_grown(const IndexRecord& record) {
  return std::any_of(record.condition.findings.begin(), record.condition.findings.end(),
                     [](const Finding& f) { return !f.grown_since.empty(); });
}

// Before anything was compared.
void forget_changes(std::vector<Finding>& findings) {
  std::erase_if(findings, [](const Finding& finding) { return finding.kind == condition::kChanged; });
  for (Finding& finding : findings) finding.grown_since.clear();
}

// Remembered like the answer of a stage: a pair of photographs is looked at once.
std::optional<std::vector<std::vector<Finding>>> compared(store::Store& store, const bench::PhotoSource& pixels_now,
                                                          const bench::PhotoSource& pixels_then, const PhotoIndex& now,
                                                          const Earlier& then) {
  nlohmann::json seen = nlohmann::json::array();
  for (const auto& [before, place] : then.again)
    for (const IndexRecord* record : {&before, &now.envelopes[place]}) seen.push_back({record->outline, record->condition});
  const Digest key = digest_of(canonical(nlohmann::json{condition::change_stage.name, condition::change_stage.version,
                                                        now.photo.sha256, then.photo.sha256, then.taken, seen}));
  if (const auto known = store::find_answer(store, key))
    return nlohmann::json::parse(known->body).at("value").get<std::vector<std::vector<Finding>>>();
  const auto photo = pixels_now(now.photo), before_photo = pixels_then(then.photo);
  if (!photo || !before_photo) return std::nullopt;
  std::vector<std::vector<Finding>> findings;
  for (const auto& [before, place] : then.again)
    findings.push_back(condition::grown_findings({now.envelopes[place], *photo}, {before, *before_photo}, then.taken));
  const std::string body = canonical(nlohmann::json{{"value", findings}});
  store::Transaction transaction(store);
  store::keep_answer(store, key, condition::change_stage.name, body, digest_of(body));
  transaction.commit();
  return nlohmann::json::parse(body).at("value").get<std::vector<std::vector<Finding>>>();
}

// What grew since the latest photograph in which it was less. Without the pixels, what was known before stands.
void mark_what_grew(store::Store& store, const bench::PhotoSource& pixels_now, const bench::PhotoSource& pixels_then,
                    PhotoIndex& index, std::vector<Earlier> looks) {
  PhotoIndex plain = index;
  for (IndexRecord& record : plain.envelopes) forget_changes(record.condition.findings);
  if (looks.empty()) index = plain;
  for (Earlier& look : looks) {
    for (auto& [before, place] : look.again) forget_changes(before.condition.findings);
    const auto findings = compared(store, pixels_now, pixels_then, plain, look);
    if (!findings) return;
    for (std::size_t k = 0; k < findings->size(); ++k) {
      IndexRecord& record = index.envelopes[look.again[k].second];
      if (&look != &looks.front() && any_grown(record)) continue;
      record.condition.findings = (*findings)[k];
    }
  }
}

Digest key_of(store::Store& store, const triage::Rules& rules, const std::map<std::string, Storage>& storage) {
  return digest_of(canonical(
      nlohmann::json{"priorities", triage::stage.version, triage::rules_csv(rules), storage, store::state_of_index(store)}));
}

}  // namespace

void add_rules(CLI::App& command, CuratorsTables& tables) {
  command.add_option("--rules", tables.rules,
                     "Rules of triage (default: triage.csv in the collection's folder; see 'papillote template rules').");
}

void add_containers(CLI::App& command, CuratorsTables& tables) {
  command.add_option("--containers", tables.containers,
                     "How each tin is kept and what stands on it (default: containers.csv in the collection's folder; see "
                     "'papillote template containers').");
}

Result<triage::Rules> rules_of(const CuratorsTables& tables, const std::string& collection) {
  auto table = table_of(tables.rules, collection, "triage.csv");
  if (!table) return table.failure();
  if (!*table) return triage::printed_rules();
  return triage::rules_from_csv((*table)->text, (*table)->file.string());
}

Result<std::map<std::string, Storage>> storage_by_tin(const CuratorsTables& tables, const std::string& collection) {
  std::map<std::string, Storage> by_tin;
  auto table = table_of(tables.containers, collection, "containers.csv");
  if (!table) return table.failure();
  if (!*table) return by_tin;
  const auto containers = containers_from_csv((*table)->text, (*table)->file.string());
  if (!containers) return containers.failure();
  for (const Container& container : *containers) {
    std::optional<Climate> climate;
    if (!container.climate.empty()) {
      const auto log = table_of(((*table)->file.parent_path() / container.climate).string(), collection, "");
      if (!log) return log.failure();
      auto read = climate_from_table((*log)->text, (*log)->file.string());
      if (!read) return read.failure();
      climate = std::move(*read);
    }
    by_tin[container.tin] = triage::storage_of(container, climate);
  }
  return by_tin;
}

Result<std::map<std::string, std::string>> headings_by_tin(const CuratorsTables& tables, const std::string& collection) {
  std::map<std::string, std::string> by_tin;
  const auto table = table_of(tables.containers, collection, "containers.csv");
  if (!table) return table.failure();
  if (!*table) return by_tin;
  const auto containers = containers_from_csv((*table)->text, (*table)->file.string());
  if (!containers) return containers.failure();
  for (const Container& container : *containers)
    if (!container.heading.empty()) by_tin[container.tin] = container.heading;
  return by_tin;
}

bool priorities_due(store::Store& store, const triage::Rules& rules, const std::map<std::string, Storage>& storage) {
  return !store::find_answer(store, key_of(store, rules, storage));
}

int set_priorities(store::Store& store, const triage::Rules& rules, const std::map<std::string, Storage>& storage) {
  const Counts counts(store);
  const std::vector<store::LabelledPhotograph> photographs = store::labelled_photographs(store);
  const auto sheet_of = [](const store::LabelledPhotograph& p) { return std::tie(p.tin, p.sheet, p.side); };
  const bench::PhotoSource pixels_now = photo_pixels(store), pixels_then = photo_pixels(store);
  int grown = 0;
  for (auto sheet = photographs.begin(); sheet != photographs.end();) {
    const auto end = std::find_if(sheet, photographs.end(), [&](const auto& p) { return sheet_of(p) != sheet_of(*sheet); });
    // Without a label, or a number on it, nothing says that two photographs show the same sheet.
    const std::vector<store::LabelledPhotograph> same_sheet =
        sheet->tin.empty() || sheet->sheet.empty() ? std::vector<store::LabelledPhotograph>{} : std::vector(sheet, end);
    for (; sheet != end; ++sheet) {
      const auto photograph = store::photograph_at(store, sheet->key);
      if (!photograph) continue;
      store::Outcome outcome{photograph->index, {}, photograph->failure};
      if (!outcome.index.photo.taken.empty())
        mark_what_grew(store, pixels_now, pixels_then, outcome.index, earlier_looks(store, outcome.index, same_sheet));
      const auto tin = storage.find(sheet->tin);
      for (IndexRecord& record : outcome.index.envelopes) {
        outcome.days.push_back(days_of(record.interpretation));
        grown += any_grown(record) ? 1 : 0;
        const IndexRecord settled = store::with_decisions(record, store::decisions_of(store, record.id));
        triage::Surroundings around{tin == storage.end() || sheet->tin.empty() ? std::vector<StorageSign>{} : tin->second.signs,
                                    counts.of(settled.interpretation)};
        auto ranked = triage::rank(settled.annotation, settled.interpretation, settled.condition, rules, around);
        if (ranked) record.triage = std::move(*ranked);
      }
      if (outcome.index == photograph->index) continue;
      store::Transaction transaction(store);
      store::replace_index(store, sheet->key, outcome.index.photo.path, outcome);
      store::keep_in_context(store, sheet->key);
      transaction.commit();
    }
  }
  store::Transaction transaction(store);
  const std::string done = canonical(nlohmann::json{{"value", nlohmann::json::object()}});
  store::keep_answer(store, key_of(store, rules, storage), "priorities", done, digest_of(done));
  transaction.commit();
  return grown;
}

}  // namespace papillote::app
