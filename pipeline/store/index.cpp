#include "pipeline/store/index.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "pipeline/record/codec.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/index_rows.h"
#include "pipeline/store/search_box.h"
#include "pipeline/store/sqlite.h"
#include "pipeline/store/words.h"

namespace papillote::store {
namespace {

std::set<std::int64_t> envelopes_in(Store& store, std::int64_t photograph) {
  std::set<std::int64_t> keys;
  Query row(store, "SELECT envelope FROM entry WHERE photograph = ?", photograph);
  while (row.next()) keys.insert(row.integer(0));
  return keys;
}

// Words gathered without repetition, written with a blank around each.
class Words {
 public:
  void add(std::string_view text) {
    for (std::string& word : words_of(folded(text)))
      if (seen_.insert(word).second) in_order_.push_back(std::move(word));
  }
  [[nodiscard]] bool has(const std::string& word) const { return seen_.contains(word); }
  [[nodiscard]] const std::vector<std::string>& all() const { return in_order_; }
  [[nodiscard]] std::string text() const { return in_order_.empty() ? "" : fmt::format(" {} ", fmt::join(in_order_, " ")); }

 private:
  std::set<std::string> seen_;
  std::vector<std::string> in_order_;
};

// The sooner asked for, the sooner seen: words of this entry's claim, if it is the most certain so far.
template <class Value>
void keep_surer(const std::optional<Claim<Value>>& claim, const Claim<Value>*& best) {
  if (claim && (best == nullptr ||
                std::pair(claim->value.has_value(), claim->confidence) > std::pair(best->value.has_value(), best->confidence)))
    best = &*claim;
}

void learn_words(Store& store, const Words& words) {
  for (const std::string& word : words.all()) {
    if (!is_word(word)) continue;
    if (Query(store, "SELECT 1 FROM word WHERE word = ?", word).next()) continue;
    Query(store, "INSERT INTO word(word) VALUES(?)", word).run();
    const std::int64_t key = last_row(store);
    for (const std::int64_t trace : traces_of(word))
      Query(store, "INSERT INTO word_trace(trace, word) VALUES(?, ?)", trace, key).run();
  }
}

void remove_search_row(Store& store, std::int64_t envelope) {
  Query(store,
        "INSERT INTO search_words(search_words, rowid, words, maybe, place_words) "
        "SELECT 'delete', envelope, words, maybe, place_words FROM search_row WHERE envelope = ?",
        envelope)
      .run();
  Query(store, "DELETE FROM search_row WHERE envelope = ?", envelope).run();
  Query(store, "DELETE FROM search_box WHERE envelope = ?", envelope).run();
  Query(store, "DELETE FROM search_days WHERE envelope = ?", envelope).run();
  Query(store, "DELETE FROM search_finding WHERE envelope = ?", envelope).run();
}

struct Entry {
  std::string photo;
  Sheet sheet;
  IndexRecord record;
  std::optional<DayRange> days;
};

std::string shelf_of(const Entry& view) {
  const auto part = [](const std::string& name) { return name.empty() ? "~" : natural_key(name); };  // unknown last
  return fmt::format("{}\n{}\n{}\n{:05}", part(view.sheet.tin), part(view.sheet.sheet), view.sheet.side == "back" ? 1 : 0,
                     view.record.outline.number + 1);
}

// Fronts first, the newest first: an envelope lies where it was photographed last.
std::vector<Entry> entries_of(Store& store, std::int64_t envelope, const std::vector<Decision>& decisions) {
  std::vector<Entry> views;
  Query row(
      store,
      "SELECT p.path, p.calibration, e.body, e.first_day, e.last_day FROM entry e JOIN photograph p ON p.key = e.photograph "
      "WHERE e.envelope = ? ORDER BY json_extract(p.photo, '$.taken') DESC, p.path, p.folder",
      envelope);
  while (row.next()) {
    Entry entry;
    entry.photo = row.text(0);
    entry.sheet = nlohmann::json::parse(row.text(1)).get<Calibration>().sheet.value_or(Sheet{});
    entry.record = with_decisions(nlohmann::json::parse(row.text(2)).get<IndexRecord>(), decisions);
    if (!row.is_null(3)) entry.days = DayRange{row.small(3), row.small(4)};
    views.push_back(std::move(entry));
  }
  std::stable_partition(views.begin(), views.end(), [](const Entry& view) { return view.sheet.side != "back"; });
  return views;
}

std::string joined(const std::set<std::string>& parts) { return fmt::format("{}", fmt::join(parts, " ")); }

}  // namespace

void refresh_search_row(Store& store, std::int64_t envelope) {
  remove_search_row(store, envelope);
  std::string id;
  {
    Query row(store, "SELECT id FROM envelope WHERE key = ?", envelope);
    if (!row.next()) return;
    id = row.text(0);
  }
  const std::string catalogue_number = catalogue_number_of(store, id);
  const std::vector<Decision> decisions = decisions_of(store, id);
  const std::vector<Entry> views = entries_of(store, envelope, decisions);
  if (views.empty()) return;

  Words words;
  Words place_words;
  std::vector<std::string> texts;
  std::map<std::string, int> findings;
  const Claim<std::string>*date = nullptr, *collector = nullptr, *taxon = nullptr;
  const Claim<Place>* place = nullptr;
  const Claim<GeoPoint>* coordinates = nullptr;
  std::optional<DayRange> days;
  const Triage* triage = &views.front().record.triage;
  const Entry* shown = &views.front();  // of the sheet where it lies, the view with the most writing
  const auto on_its_sheet = [&](const Entry& view) {
    return view.sheet.tin == views.front().sheet.tin && view.sheet.sheet == views.front().sheet.sheet;
  };
  double confidence = 0;
  std::size_t lines = 0;
  for (const Entry& view : views) {
    const IndexRecord& record = view.record;
    words.add(record.annotation.text);
    if (!record.annotation.text.empty() && std::find(texts.begin(), texts.end(), record.annotation.text) == texts.end())
      texts.push_back(record.annotation.text);
    if (on_its_sheet(view) && record.annotation.text.size() > 2 * shown->record.annotation.text.size()) shown = &view;
    const Claim<std::string>* date_before = date;
    keep_surer(record.interpretation.date, date);
    if (date != date_before) days = view.days;
    keep_surer(record.interpretation.place, place);
    keep_surer(record.interpretation.coordinates, coordinates);
    keep_surer(record.interpretation.collector, collector);
    keep_surer(record.interpretation.taxon, taxon);
    if (record.triage.score > triage->score) triage = &record.triage;
    for (const Finding& finding : record.condition.findings)
      if (finding.sure()) findings[finding.kind] = std::max(findings[finding.kind], finding.severity);
    for (const Reading& reading : record.annotation.lines) {
      if (reading.line.kind == LineKind::newsprint) continue;
      confidence += reading.confidence;
      ++lines;
    }
  }
  for (const Claim<std::string>* claim : {collector, taxon})
    if (claim != nullptr) words.add(claim->value.value_or(claim->verbatim));
  if (place != nullptr) {
    place_words.add(place->verbatim);
    if (place->value) place_words.add(place->value->name);
    for (const std::string& word : place_words.all()) words.add(word);
  }
  words.add(id);
  words.add(catalogue_number);
  Words maybe;
  for (const Entry& view : views)
    for (const Reading& reading : view.record.annotation.lines) {
      if (reading.line.kind == LineKind::newsprint) continue;
      for (const Alternative& alternative : reading.alternatives)
        for (const std::string& word : words_of(folded(alternative.text)))
          if (!words.has(word)) maybe.add(word);
    }
  learn_words(store, words);
  learn_words(store, place_words);

  std::set<std::string> settled;
  for (const Decision& decision : decisions) {
    settled.insert(decision.term);
    if (decision.term == "date" || (decision.term == kConfirmed && decision.days)) days = decision.days;
  }
  std::optional<Point> at;  // x = longitude, y = latitude
  std::string country;
  if (place != nullptr && place->value) {
    at = Point{place->value->lon_deg, place->value->lat_deg};
    country = place->value->country;
  }
  if (coordinates != nullptr && coordinates->value && !settled.contains("place"))
    at = Point{coordinates->value->lon_deg, coordinates->value->lat_deg};
  std::set<std::string> kinds;
  for (const auto& [kind, severity] : findings) {
    kinds.insert(kind);
    Query(store, "INSERT INTO search_finding(kind, envelope, severity) VALUES(?, ?, ?)", kind, envelope, severity).run();
  }
  const std::string taxon_name = taxon == nullptr ? "" : taxon->value.value_or(taxon->verbatim);
  Query(store,
        "INSERT INTO search_row(envelope, words, maybe, place_words, id, catalogue_number, shelf, tin, sheet, side, position, "
        "photo, "
        "text, date, first_day, last_day, place, country, lat_deg, lon_deg, place_open, collector, taxon, taxon_folded, level, "
        "score, "
        "text_confidence, findings, settled) VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        envelope, words.text(), maybe.text(), place_words.text(), id, catalogue_number, shelf_of(*shown), shown->sheet.tin,
        shown->sheet.sheet, shown->sheet.side, shown->record.outline.number + 1, shown->photo,
        fmt::format("{}", fmt::join(texts, "\n")),
        date == nullptr ? ""
        : date->value   ? *date->value
                        : date->verbatim + "?",
        days ? std::optional(days->first) : std::nullopt, days ? std::optional(days->last) : std::nullopt,
        place == nullptr ? ""
        : place->value   ? place->value->name
                         : place->verbatim,
        country, at ? std::optional(at->y) : std::nullopt, at ? std::optional(at->x) : std::nullopt, !at,
        collector == nullptr ? "" : collector->value.value_or(collector->verbatim), taxon_name, folded(taxon_name),
        triage->level, triage->score, lines == 0 ? 0.0 : confidence / static_cast<double>(lines), joined(kinds),
        joined(settled))
      .run();
  Query(store, "INSERT INTO search_words(rowid, words, maybe, place_words) VALUES(?, ?, ?, ?)", envelope, words.text(),
        maybe.text(), place_words.text())
      .run();
  if (at)
    Query(store, "INSERT INTO search_box VALUES(?1, ?2, ?2, ?3, ?3, ?4, ?5)", envelope, at->y, at->x,
          days ? time_of(days->first) : kNoTime, days ? time_of(days->last) : kNoTime)
        .run();
  if (days) Query(store, "INSERT INTO search_days VALUES(?, ?, ?)", envelope, days->first, days->last).run();
}

void settle_photograph(Store& store, std::int64_t photograph) {
  const auto known = photograph_at(store, photograph);
  if (!known) return;
  std::vector<IndexRecord> records = known->index.envelopes;
  settle_identity(store, known->index.photo.sha256, records);
  std::set<std::int64_t> touched = envelopes_in(store, photograph);
  for (std::size_t i = 0; i < records.size(); ++i)
    Query(store, "UPDATE entry SET envelope = (SELECT key FROM envelope WHERE id = ?), body = ? WHERE photograph = ? AND place = ?",
          records[i].id, canonical(nlohmann::json(records[i])), photograph, static_cast<std::int64_t>(i))
        .run();
  touched.merge(envelopes_in(store, photograph));
  for (const std::int64_t envelope : touched) refresh_search_row(store, envelope);
}

void remove_index(Store& store, std::int64_t photograph) {
  const std::set<std::int64_t> touched = envelopes_in(store, photograph);
  Query(store, "DELETE FROM entry WHERE photograph = ?", photograph).run();
  for (const std::int64_t envelope : touched) refresh_search_row(store, envelope);
}

void replace_index(Store& store, std::int64_t photograph, const std::string& path, const Outcome& outcome) {
  PhotoIndex index = outcome.index;
  index.photo.path = path;
  nlohmann::json days = nlohmann::json::array();
  for (const auto& range : outcome.days) days.push_back(range ? nlohmann::json{range->first, range->last} : nlohmann::json());
  const nlohmann::json failure = outcome.failure ? nlohmann::json(*outcome.failure) : nlohmann::json();
  const std::string digest = digest_of(canonical(nlohmann::json{index, days, failure})).hex;
  {
    Query same(store, "SELECT 1 FROM photograph WHERE key = ? AND outcome = ?", photograph, digest);
    if (same.next()) {
      Query(store, "UPDATE photograph SET in_hand = 0, missing = 0 WHERE key = ?", photograph).run();
      return;
    }
  }
  settle_identity(store, index.photo.sha256, index.envelopes);

  std::set<std::int64_t> touched = envelopes_in(store, photograph);
  Query(store, "DELETE FROM entry WHERE photograph = ?", photograph).run();
  Query(store,
        "UPDATE photograph SET outcome = ?, failure = ?, photo = ?, calibration = ?, in_hand = 0, missing = 0, in_context = 0, "
        "crashes = CASE WHEN ? THEN crashes ELSE 0 END WHERE key = ?",
        digest, outcome.failure ? std::optional(failure.dump()) : std::nullopt, canonical(nlohmann::json(index.photo)),
        canonical(nlohmann::json(index.calibration)), outcome.failure && outcome.failure->kind == "crashed", photograph)
      .run();
  for (std::size_t i = 0; i < index.envelopes.size(); ++i) {
    const IndexRecord& record = index.envelopes[i];
    const std::optional<DayRange> range = i < outcome.days.size() ? outcome.days[i] : std::nullopt;
    Query(store,
          "INSERT INTO entry(photograph, place, envelope, first_day, last_day, body) "
          "VALUES(?, ?, (SELECT key FROM envelope WHERE id = ?), ?, ?, ?)",
          photograph, static_cast<std::int64_t>(i), record.id, range ? std::optional(range->first) : std::nullopt,
          range ? std::optional(range->last) : std::nullopt, canonical(nlohmann::json(record)))
        .run();
  }
  touched.merge(envelopes_in(store, photograph));
  for (const std::int64_t envelope : touched) refresh_search_row(store, envelope);
}

namespace {

// Columns key, path, photo, calibration, failure, missing.
IndexedPhotograph photograph_in(Store& store, const Query& row) {
  IndexedPhotograph photograph;
  if (!row.is_null(2)) photograph.index.photo = nlohmann::json::parse(row.text(2)).get<Photo>();
  if (!row.is_null(3)) photograph.index.calibration = nlohmann::json::parse(row.text(3)).get<Calibration>();
  if (!row.is_null(4)) photograph.failure = nlohmann::json::parse(row.text(4)).get<Failure>();
  photograph.missing = row.small(5) != 0;
  photograph.index.photo.path = row.text(1);
  Query entry(store, "SELECT body FROM entry WHERE photograph = ? ORDER BY place", row.integer(0));
  while (entry.next()) photograph.index.envelopes.push_back(nlohmann::json::parse(entry.text(0)).get<IndexRecord>());
  return photograph;
}

}  // namespace

void for_each_photograph(Store& store, const std::function<void(const IndexedPhotograph&)>& take) {
  Query row(store,
            "SELECT key, path, photo, calibration, failure, missing FROM photograph "
            "WHERE outcome IS NOT NULL OR failure IS NOT NULL ORDER BY path, folder");
  while (row.next()) take(photograph_in(store, row));
}

std::optional<IndexedPhotograph> find_photograph(Store& store, const std::string& path) {
  Query row(store,
            "SELECT key, path, photo, calibration, failure, missing FROM photograph WHERE path = ? ORDER BY missing, folder",
            path);
  if (!row.next()) return std::nullopt;
  return photograph_in(store, row);
}

std::vector<std::string> tins_to_go_through(Store& store) {
  std::vector<std::string> tins;
  Query row(store,
            "SELECT DISTINCT coalesce(json_extract(calibration, '$.sheet.tin'), '') AS tin FROM photograph "
            "WHERE in_context = 0 AND outcome IS NOT NULL ORDER BY tin");
  while (row.next()) tins.push_back(row.text(0));
  return tins;
}

std::vector<TinSheet> sheets_of_tin(Store& store, const std::string& tin) {
  std::vector<TinSheet> sheets;
  Query row(store,
            "SELECT key, path, photo, calibration, failure, missing FROM photograph "
            "WHERE outcome IS NOT NULL AND coalesce(json_extract(calibration, '$.sheet.tin'), '') = ? ORDER BY path, folder",
            tin);
  while (row.next()) sheets.push_back({row.integer(0), photograph_in(store, row)});
  const auto shelf = [](const TinSheet& sheet) {
    const Sheet label = sheet.photograph.index.calibration.sheet.value_or(Sheet{});
    return std::pair(label.side == "back", natural_key(label.sheet));
  };
  std::stable_sort(sheets.begin(), sheets.end(), [&](const TinSheet& a, const TinSheet& b) { return shelf(a) < shelf(b); });
  return sheets;
}

void keep_in_context(Store& store, std::int64_t photograph) {
  Query(store, "UPDATE photograph SET in_context = 1 WHERE key = ?", photograph).run();
}

std::vector<LabelledPhotograph> labelled_photographs(Store& store) {
  std::vector<LabelledPhotograph> all;
  Query row(store,
            "SELECT key, coalesce(json_extract(calibration, '$.sheet.tin'), '') AS tin, "
            "coalesce(json_extract(calibration, '$.sheet.sheet'), '') AS sheet, "
            "coalesce(json_extract(calibration, '$.sheet.side'), '') AS side, coalesce(json_extract(photo, '$.taken'), '') AS taken "
            "FROM photograph WHERE outcome IS NOT NULL ORDER BY tin, sheet, side, taken, path, folder");
  while (row.next()) all.push_back({row.integer(0), row.text(1), row.text(2), row.text(3), row.text(4)});
  return all;
}

std::optional<IndexedPhotograph> photograph_at(Store& store, std::int64_t key) {
  Query row(store, "SELECT key, path, photo, calibration, failure, missing FROM photograph WHERE key = ?", key);
  if (!row.next()) return std::nullopt;
  return photograph_in(store, row);
}

namespace {

std::string outcomes(Store& store) {
  std::string all;
  Query row(store, "SELECT outcome FROM photograph WHERE outcome IS NOT NULL ORDER BY key");
  while (row.next()) all += row.text(0);
  return all;
}

}  // namespace

Digest state_of_photographs(Store& store) { return digest_of(outcomes(store)); }

Digest state_of_index(Store& store) {
  std::string state = outcomes(store);
  Query row(store, "SELECT (SELECT coalesce(max(key), 0) FROM decision), (SELECT coalesce(max(key), 0) FROM sameness)");
  if (row.next()) state += fmt::format("/{}/{}", row.integer(0), row.integer(1));
  return digest_of(state);
}

void for_each_said(Store& store, const std::function<void(const Said&)>& take) {
  Query row(store, "SELECT place, country, lat_deg IS NOT NULL, date, first_day IS NOT NULL, taxon FROM search_row");
  while (row.next()) take({row.text(0), row.text(1), row.small(2) != 0, row.text(3), row.small(4) != 0, row.text(5)});
}

namespace {

// Columns path, photo, calibration, body.
EnvelopeView view_in(const Query& row) {
  EnvelopeView view{nlohmann::json::parse(row.text(1)).get<Photo>(), nlohmann::json::parse(row.text(2)).get<Calibration>(),
                    nlohmann::json::parse(row.text(3)).get<IndexRecord>()};
  view.photo.path = row.text(0);
  return view;
}

}  // namespace

void for_each_view(Store& store, const std::function<void(const EnvelopeView&)>& take) {
  Query row(store,
            "SELECT p.path, p.photo, p.calibration, e.body FROM entry e JOIN photograph p ON p.key = e.photograph "
            "ORDER BY e.envelope, p.key");
  while (row.next()) take(view_in(row));
}

std::vector<EnvelopeView> views_of(Store& store, const std::string& envelope_id) {
  std::vector<EnvelopeView> views;
  Query row(
      store,
      "SELECT p.path, p.photo, p.calibration, e.body FROM envelope v JOIN entry e ON e.envelope = coalesce(v.joined_to, v.key) "
      "JOIN photograph p ON p.key = e.photograph WHERE v.id = ? ORDER BY p.path, p.folder",
      envelope_id);
  while (row.next()) views.push_back(view_in(row));
  std::stable_partition(views.begin(), views.end(),
                        [](const EnvelopeView& v) { return v.calibration.sheet.value_or(Sheet{}).side != "back"; });
  return views;
}

}  // namespace papillote::store
