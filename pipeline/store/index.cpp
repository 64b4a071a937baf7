#include "pipeline/store/index.h"

#include <algorithm>
#include <set>

#include "pipeline/record/codec.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/entries.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/inside.h"

namespace papillote::store {
namespace {

struct EntryPlace {
  std::int64_t photograph;
  std::string photo;
  int position;
  std::string tin, sheet, side;
};

void count_words(SQLite::Database& database, const Folder& folder, const std::string& words) {
  std::set<std::string> own;
  for (std::string& word : folder.words(words)) own.insert(std::move(word));
  for (const std::string& word : own) {
    SQLite::Statement use(database, "UPDATE word SET uses = uses + 1 WHERE word = ?");
    use.bind(1, word);
    if (use.exec() > 0) continue;
    const std::int64_t number = database.execAndGet("SELECT coalesce(max(number), 0) + 1 FROM word").getInt64();
    SQLite::Statement add(database, "INSERT INTO word (word, uses, number) VALUES (?, 1, ?)");
    add.bind(1, word);
    add.bind(2, number);
    add.exec();
    SQLite::Statement letters(database, "INSERT INTO word_letters (rowid, word) VALUES (?, ?)");
    letters.bind(1, number);
    letters.bind(2, word);
    letters.exec();
  }
}

void forget_words(SQLite::Database& database, const Folder& folder, const std::string& words) {
  std::set<std::string> own;
  for (std::string& word : folder.words(words)) own.insert(std::move(word));
  SQLite::Statement unuse(database, "UPDATE word SET uses = max(0, uses - 1) WHERE word = ?");
  for (const std::string& word : own) {
    unuse.reset();
    unuse.bind(1, word);
    unuse.exec();
  }
}

double text_confidence(const Annotation& annotation) {
  double letters = 0;
  double sum = 0;
  for (const Reading& reading : annotation.lines) {
    if (reading.line.kind == LineKind::newsprint) continue;
    const auto length = static_cast<double>(reading.text.size());
    letters += length;
    sum += length * reading.confidence;
  }
  return letters > 0 ? sum / letters : 0;
}

void bind_or_null(SQLite::Statement& statement, int at, const std::optional<double>& value) {
  if (value)
    statement.bind(at, *value);
  else
    statement.bind(at);
}

void write_entry(Store& store, SQLite::Database& database, const EntryPlace& where, const IndexRecord& machine, std::optional<DayRange> days) {
  const auto decisions = decisions_of(store, machine.id);
  const IndexRecord record = with_decisions(machine, decisions);
  nlohmann::json settled = nlohmann::json::array();
  for (const Decision& decision : decisions) {
    settled.push_back(decision.term);
    if (decision.term == "date") days = decision.days;
  }
  const Interpretation& facts = record.interpretation;
  const auto claimed = [](const std::optional<Claim<std::string>>& claim) { return claim && claim->value ? *claim->value : std::string(); };
  std::string date = claimed(facts.date);
  if (date.empty() && facts.date && !facts.date->verbatim.empty()) date = facts.date->verbatim + " ?";
  std::string place;
  std::string country;
  std::optional<double> lat;
  std::optional<double> lon;
  if (facts.place) place = facts.place->verbatim;
  if (facts.place && facts.place->value) {
    place = facts.place->value->name;
    country = facts.place->value->country;
    lat = facts.place->value->lat_deg;
    lon = facts.place->value->lon_deg;
  }
  if (facts.coordinates && facts.coordinates->value) {
    lat = facts.coordinates->value->lat_deg;
    lon = facts.coordinates->value->lon_deg;
  }
  nlohmann::json findings = nlohmann::json::array();
  for (const Finding& finding : record.condition.findings) findings.push_back({finding.kind, finding.severity});
  const Folder& folder = store.inside().folder;
  const std::string words = folder.joined(record.annotation.text + "\n" + place + "\n" + claimed(facts.collector) + "\n" + claimed(facts.taxon) + "\n" +
                                          record.catalogue_number + "\n" + record.id);
  const std::string place_words = folder.joined(place + "\n" + (facts.place ? facts.place->verbatim : ""));

  SQLite::Statement keep(database,
                         "INSERT INTO entry (photograph, id, catalogue_number, tin, sheet, side, position, photo, text, date, first_day, last_day, "
                         "place, country, lat_deg, lon_deg, collector, taxon, level, score, findings, text_confidence, place_open, settled, words, "
                         "place_words, folded_taxon, record) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  int at = 0;
  keep.bind(++at, where.photograph);
  for (const std::string& text : {record.id, record.catalogue_number, where.tin, where.sheet, where.side}) keep.bind(++at, text);
  keep.bind(++at, where.position);
  for (const std::string& text : {where.photo, record.annotation.text, date}) keep.bind(++at, text);
  if (days) {
    keep.bind(++at, days->first);
    keep.bind(++at, days->last);
  } else {
    at += 2;
  }
  keep.bind(++at, place);
  keep.bind(++at, country);
  bind_or_null(keep, ++at, lat);
  bind_or_null(keep, ++at, lon);
  for (const std::string& text : {claimed(facts.collector), claimed(facts.taxon), record.triage.level}) keep.bind(++at, text);
  keep.bind(++at, record.triage.score);
  keep.bind(++at, findings.dump());
  keep.bind(++at, text_confidence(record.annotation));
  keep.bind(++at, !lat.has_value() ? 1 : 0);
  for (const std::string& text : {settled.dump(), words, place_words, folder.joined(claimed(facts.taxon)), canonical(machine)}) keep.bind(++at, text);
  keep.exec();
  const std::int64_t row = database.getLastInsertRowid();

  SQLite::Statement full_text(database, "INSERT INTO entry_words (rowid, words, place_words) VALUES (?, ?, ?)");
  full_text.bind(1, row);
  full_text.bind(2, words);
  full_text.bind(3, place_words);
  full_text.exec();
  count_words(database, folder, words + " " + place_words);
  if (lat && lon) {
    SQLite::Statement point(database, "INSERT INTO entry_point (row, south, north, west, east) VALUES (?1, ?2, ?2, ?3, ?3)");
    point.bind(1, row);
    point.bind(2, *lat);
    point.bind(3, *lon);
    point.exec();
  }
  if (days) {
    SQLite::Statement span(database, "INSERT INTO entry_days (row, first, last) VALUES (?, ?, ?)");
    span.bind(1, row);
    span.bind(2, days->first);
    span.bind(3, days->last);
    span.exec();
  }
  for (const Finding& finding : record.condition.findings) {
    SQLite::Statement damage(database, "INSERT OR IGNORE INTO entry_finding (kind, severity, row) VALUES (?, ?, ?)");
    damage.bind(1, finding.kind);
    damage.bind(2, finding.severity);
    damage.bind(3, row);
    damage.exec();
  }
}

void remove_entry(SQLite::Database& database, const Folder& folder, std::int64_t row) {
  SQLite::Statement find(database, "SELECT words, place_words FROM entry WHERE row = ?");
  find.bind(1, row);
  if (!find.executeStep()) return;
  const std::string words = find.getColumn(0).getString();
  const std::string place_words = find.getColumn(1).getString();
  SQLite::Statement full_text(database, "INSERT INTO entry_words (entry_words, rowid, words, place_words) VALUES ('delete', ?, ?, ?)");
  full_text.bind(1, row);
  full_text.bind(2, words);
  full_text.bind(3, place_words);
  full_text.exec();
  forget_words(database, folder, words + " " + place_words);
  for (const char* query : {"DELETE FROM entry_point WHERE row = ?", "DELETE FROM entry_days WHERE row = ?", "DELETE FROM entry_finding WHERE row = ?",
                            "DELETE FROM entry WHERE row = ?"}) {
    SQLite::Statement clear(database, query);
    clear.bind(1, row);
    clear.exec();
  }
}

std::vector<std::int64_t> rows_where(SQLite::Database& database, const char* query, const auto& value) {
  std::vector<std::int64_t> rows;
  SQLite::Statement find(database, query);
  find.bind(1, value);
  while (find.executeStep()) rows.push_back(find.getColumn(0).getInt64());
  return rows;
}

PhotoIndex index_in(const SQLite::Column& column) { return nlohmann::json::parse(column.getString()).get<PhotoIndex>(); }

IndexedPhotograph indexed_in(SQLite::Statement& find) {
  IndexedPhotograph indexed;
  if (!find.getColumn(1).isNull()) indexed.index = index_in(find.getColumn(1));
  indexed.index.photo.path = find.getColumn(0).getString();
  if (!find.getColumn(2).isNull()) indexed.failure = nlohmann::json::parse(find.getColumn(2).getString()).get<Failure>();
  indexed.missing = find.getColumn(3).getInt() != 0;
  return indexed;
}

}  // namespace

void clear_entries(SQLite::Database& database, std::int64_t photograph) {
  const Folder folder;
  for (const std::int64_t row : rows_where(database, "SELECT row FROM entry WHERE photograph = ?", photograph)) remove_entry(database, folder, row);
}

void refresh_entries(Store& store, const std::string& envelope_id) {
  with_database(store, [&](SQLite::Database& database) {
    for (const std::int64_t row : rows_where(database, "SELECT row FROM entry WHERE id = ?", envelope_id)) {
      SQLite::Statement find(database, "SELECT photograph, photo, position, tin, sheet, side, record, first_day, last_day FROM entry WHERE row = ?");
      find.bind(1, row);
      find.executeStep();
      const EntryPlace where{find.getColumn(0).getInt64(), find.getColumn(1).getString(), find.getColumn(2).getInt(), find.getColumn(3).getString(),
                             find.getColumn(4).getString(), find.getColumn(5).getString()};
      const auto record = nlohmann::json::parse(find.getColumn(6).getString()).get<IndexRecord>();
      std::optional<DayRange> days;
      if (!find.getColumn(7).isNull()) days = DayRange{find.getColumn(7).getInt(), find.getColumn(8).getInt()};
      find.reset();
      remove_entry(database, store.inside().folder, row);
      write_entry(store, database, where, record, days);
    }
  });
}

void replace_index(Store& store, std::int64_t photograph, const std::string& path, const Outcome& outcome) {
  with_database(store, [&](SQLite::Database& database) {
    PhotoIndex index = outcome.index;
    index.photo.path = path;
    const std::string failure = outcome.failure ? canonical(*outcome.failure) : "";
    std::string said = canonical(index) + failure;
    for (const auto& days : outcome.days) said += days ? std::to_string(days->first) + "/" + std::to_string(days->last) + ";" : ";";
    const std::string digest = digest_of(said).hex;
    SQLite::Statement last(database, "SELECT outcome_digest FROM photograph WHERE key = ?");
    last.bind(1, photograph);
    const bool equal = last.executeStep() && !last.getColumn(0).isNull() && last.getColumn(0).getString() == digest;
    last.reset();
    if (equal) {
      SQLite::Statement done(database, "UPDATE photograph SET in_hand = 0, left_in_hand = 0, missing = 0 WHERE key = ?");
      done.bind(1, photograph);
      done.exec();
      return;
    }

    settle_identity(store, index.photo.sha256, index.envelopes);
    for (const std::int64_t row : rows_where(database, "SELECT row FROM entry WHERE photograph = ?", photograph))
      remove_entry(database, store.inside().folder, row);
    const Sheet sheet = index.calibration.sheet.value_or(Sheet{});
    for (std::size_t i = 0; i < index.envelopes.size(); ++i)
      write_entry(store, database, {photograph, path, static_cast<int>(i) + 1, sheet.tin, sheet.sheet, sheet.side}, index.envelopes[i],
                  i < outcome.days.size() ? outcome.days[i] : std::nullopt);

    SQLite::Statement keep(database,
                           "UPDATE photograph SET outcome = ?, outcome_digest = ?, failure = ?, retake = ?, in_hand = 0, left_in_hand = 0, missing = 0 "
                           "WHERE key = ?");
    keep.bind(1, canonical(index));
    keep.bind(2, digest);
    if (!failure.empty()) keep.bind(3, failure);
    keep.bind(4, index.calibration.quality.verdict == "retake" ? 1 : 0);
    keep.bind(5, photograph);
    keep.exec();
  });
}

void for_each_photograph(Store& store, const std::function<void(const IndexedPhotograph&)>& take) {
  with_database(store, [&](SQLite::Database& database) {
    SQLite::Statement find(database, "SELECT path, outcome, failure, missing FROM photograph ORDER BY path, folder");
    while (find.executeStep()) take(indexed_in(find));
  });
}

std::optional<IndexedPhotograph> find_photograph(Store& store, const std::string& path) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<IndexedPhotograph> {
    SQLite::Statement find(database, "SELECT path, outcome, failure, missing FROM photograph WHERE path = ? ORDER BY missing, key");
    find.bind(1, path);
    if (!find.executeStep()) return std::nullopt;
    return indexed_in(find);
  });
}

std::vector<EnvelopeView> views_of(Store& store, const std::string& envelope_id) {
  return with_database(store, [&](SQLite::Database& database) {
    std::vector<EnvelopeView> views;
    SQLite::Statement find(database,
                           "SELECT p.path, p.outcome, e.position FROM entry e JOIN photograph p ON p.key = e.photograph "
                           "WHERE e.id = ? ORDER BY e.side = 'back', p.path");
    find.bind(1, envelope_id);
    while (find.executeStep()) {
      PhotoIndex index = index_in(find.getColumn(1));
      index.photo.path = find.getColumn(0).getString();
      const auto i = static_cast<std::size_t>(find.getColumn(2).getInt() - 1);
      if (i < index.envelopes.size()) views.push_back({index.photo, index.calibration, index.envelopes[i]});
    }
    return views;
  });
}

}  // namespace papillote::store
