#include "pipeline/store/search.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <set>
#include <utility>

#include "pipeline/store/search_box.h"
#include "pipeline/store/sqlite.h"
#include "pipeline/store/words.h"

namespace papillote::store {
namespace {

// A set larger than this is not counted further when the smallest is looked for.
constexpr int kBroad = 3000;

// SQL of changing shape with its values in order. All values are given as text or number, never pasted in.
struct Sql {
  std::string text;
  std::vector<std::function<void(SQLite::Statement&, int)>> values;

  template <class Value>
  Sql& with(const Value& value) {
    values.push_back([value](SQLite::Statement& statement, int at) { statement.bind(at, value); });
    return *this;
  }
  Sql& operator+=(const Sql& other) {
    text += other.text;
    values.insert(values.end(), other.values.begin(), other.values.end());
    return *this;
  }
};

template <class Take>
void for_each_row(Store& store, const Sql& sql, Take take) {
  try {
    SQLite::Statement statement(store.inside().database, sql.text);
    int at = 0;
    for (const auto& bind : sql.values) bind(statement, ++at);
    while (statement.executeStep()) take(statement);
  } catch (const SQLite::Exception& error) {
    throw Trouble(failure_of(error, store.collection()));
  }
}

// One word asked for: any of these may stand for it.
using Group = std::vector<std::string>;

std::vector<Group> groups_of(Store& store, const std::string& text, bool near_misses) {
  std::vector<Group> groups;
  // A '*' survives folding but ends a word: look for it before the words are cut.
  const std::string all = folded(text);
  std::size_t from = 0;
  for (const std::string& word : words_of(all)) {
    const std::size_t at = all.find(word, from);
    from = at + word.size();
    if (from < all.size() && all[from] == '*') {
      groups.push_back({word + "*"});
    } else {
      Group group{word};
      if (near_misses)
        for (std::string& near : near_words(store, word))
          if (near != word) group.push_back(std::move(near));
      groups.push_back(std::move(group));
    }
  }
  return groups;
}

// For FTS5: (("simla" OR "sirnla") AND ("18"*)).
std::string match_of(const std::vector<Group>& groups) {
  std::vector<std::string> all;
  for (const Group& group : groups) {
    std::vector<std::string> any;
    for (const std::string& word : group)
      any.push_back(word.ends_with('*') ? fmt::format("\"{}\"*", word.substr(0, word.size() - 1))
                                        : fmt::format("\"{}\"", word));
    all.push_back(fmt::format("({})", fmt::join(any, " OR ")));
  }
  return fmt::format("({})", fmt::join(all, " AND "));
}

// For has_words.
std::string needles_of(const std::vector<Group>& groups) {
  std::vector<std::string> all;
  for (const Group& group : groups) all.push_back(fmt::format("{}", fmt::join(group, " ")));
  return fmt::format("{}", fmt::join(all, "|"));
}

std::vector<Group> exact_of(const std::vector<Group>& groups) {
  std::vector<Group> exact;
  for (const Group& group : groups) exact.push_back({group.front()});
  return exact;
}

// The smallest string greater than all that begin with `prefix`.
std::string after(const std::string& prefix) { return prefix + "\xff"; }

struct Asked {
  std::vector<Group> words;
  std::vector<Group> place;
  bool exact = false;  // this pass: near misses left out
};

// Where envelopes that hold one condition come from.
struct Source {
  Sql envelopes;  // SELECT of one column
  bool is_words = false;
};

Sql box_of(const Near& near, const std::optional<DayRange>& period) {
  constexpr double kKmPerDegree = 111.0;  // a little less than anywhere: the box is never too small
  const double lat = near.km / kKmPerDegree;
  Sql sql{"SELECT envelope FROM search_box WHERE lat_most >= ? AND lat_least <= ?", {}};
  sql.with(near.lat_deg - lat).with(near.lat_deg + lat);
  const double widest = std::min(std::abs(near.lat_deg) + lat, 90.0);
  const double narrow = std::cos(widest * std::numbers::pi / 180);
  const double lon = narrow > 1e-3 ? lat / narrow : 360;
  // Across the date line or a pole the longitudes are left to the exact distance.
  if (near.lon_deg - lon >= -180 && near.lon_deg + lon <= 180) {
    sql.text += " AND lon_most >= ? AND lon_least <= ?";
    sql.with(near.lon_deg - lon).with(near.lon_deg + lon);
  }
  if (period) {
    sql.text += " AND last_time >= ? AND first_time <= ?";
    sql.with(time_of(period->first)).with(time_of(period->last));
  }
  // Corners of the box; the table keeps degrees to a few metres.
  constexpr double kRounded_km = 0.01;
  sql.text += " AND km_between((lat_least + lat_most) / 2, (lon_least + lon_most) / 2, ?, ?) <= ?";
  sql.with(near.lat_deg).with(near.lon_deg).with(near.km + kRounded_km);
  return sql;
}

std::vector<Source> sources(const Question& q, const Asked& asked) {
  std::vector<Source> all;
  if (!asked.words.empty() || !asked.place.empty()) {
    std::vector<std::string> parts;
    if (!asked.words.empty())
      parts.push_back(asked.exact ? fmt::format("words : {}", match_of(exact_of(asked.words)))
                                  : fmt::format("{{words maybe}} : {}", match_of(asked.words)));
    if (!asked.place.empty())
      parts.push_back(fmt::format("place_words : {}", match_of(asked.exact ? exact_of(asked.place) : asked.place)));
    Sql sql{"SELECT rowid AS envelope FROM search_words WHERE search_words MATCH ?", {}};
    sql.with(fmt::format("{}", fmt::join(parts, " AND ")));
    all.push_back({std::move(sql), true});
  }
  if (q.near)
    all.push_back({box_of(*q.near, q.period), false});
  else if (q.period) {
    Sql sql{"SELECT envelope FROM search_days WHERE last_day >= ? AND first_day <= ?", {}};
    all.push_back({sql.with(q.period->first).with(q.period->last), false});
  }
  if (q.tin) {
    Sql sql{"SELECT envelope FROM search_row WHERE tin = ?", {}};
    all.push_back({sql.with(*q.tin), false});
  }
  if (!q.taxon.empty()) {
    const std::string name = folded(q.taxon);
    Sql sql{"SELECT envelope FROM search_row WHERE taxon_folded <> '' AND taxon_folded >= ? AND taxon_folded < ?", {}};
    all.push_back({sql.with(name).with(after(name)), false});
  }
  if (!q.finding.empty()) {
    Sql sql{"SELECT envelope FROM search_finding WHERE kind = ? AND severity >= ?", {}};
    all.push_back({sql.with(q.finding).with(q.least_severity), false});
  }
  if (!q.level.empty()) {
    Sql sql{"SELECT envelope FROM search_row WHERE level = ?", {}};
    all.push_back({sql.with(q.level), false});
  }
  return all;
}

// Everything that is asked, as conditions on the row `r`. `words_hold` = the row comes from the words already.
Sql conditions(const Question& q, const Asked& asked, bool words_hold) {
  Sql sql{"1", {}};
  if (!words_hold) {
    if (!asked.words.empty()) {
      sql.text += asked.exact ? " AND has_words(r.words, ?)" : " AND has_words(r.words || r.maybe, ?)";
      sql.with(needles_of(asked.exact ? exact_of(asked.words) : asked.words));
    }
    if (!asked.place.empty()) {
      sql.text += " AND has_words(r.place_words, ?)";
      sql.with(needles_of(asked.exact ? exact_of(asked.place) : asked.place));
    }
  }
  if (q.near) {
    sql.text += " AND km_between(r.lat_deg, r.lon_deg, ?, ?) <= ?";
    sql.with(q.near->lat_deg).with(q.near->lon_deg).with(q.near->km);
  }
  if (q.period) {
    sql.text += " AND r.last_day >= ? AND r.first_day <= ?";
    sql.with(q.period->first).with(q.period->last);
  }
  if (q.tin) {
    sql.text += " AND r.tin = ?";
    sql.with(*q.tin);
  }
  if (!q.taxon.empty()) {
    const std::string name = folded(q.taxon);
    sql.text += " AND r.taxon_folded >= ? AND r.taxon_folded < ?";
    sql.with(name).with(after(name));
  }
  if (!q.finding.empty()) {
    sql.text += " AND EXISTS (SELECT 1 FROM search_finding f WHERE f.kind = ? AND f.envelope = r.envelope AND f.severity >= ?)";
    sql.with(q.finding).with(q.least_severity);
  }
  if (!q.level.empty()) {
    sql.text += " AND r.level = ?";
    sql.with(q.level);
  }
  if (q.place_open) sql.text += " AND r.place_open";
  if (q.text_confidence_below) {
    sql.text += " AND r.text_confidence < ?";
    sql.with(*q.text_confidence_below);
  }
  return sql;
}

std::string_view order_of(Order order) {
  switch (order) {
    case Order::shelf:
      return " ORDER BY r.shelf, r.envelope";
    case Order::priority:
      return " ORDER BY r.score DESC, r.envelope";
    case Order::date:
      return " ORDER BY r.first_day IS NULL, r.first_day, r.last_day, r.envelope";
    case Order::best:
      break;
  }
  return "";
}

// Rows are looked up from the smallest set; SQLite's planner, left alone, begins with the words however broad.
Sql rows_of(Store& store, const Question& q, const Asked& asked, int most) {
  std::vector<Source> all = sources(q, asked);
  const Source* smallest = all.empty() ? nullptr : &all.front();
  if (all.size() > 1) {
    int least = kBroad;
    for (const Source& source : all) {
      Sql sql{fmt::format("SELECT count(*) FROM ({} LIMIT {})", source.envelopes.text, least), source.envelopes.values};
      int size = 0;
      for_each_row(store, sql, [&](SQLite::Statement& row) { size = row.getColumn(0).getInt(); });
      if (size < least) {
        least = size;
        smallest = &source;
      }
    }
  }
  Sql sql{"SELECT r.envelope FROM search_row r WHERE ", {}};
  if (smallest != nullptr) {
    sql = {"SELECT r.envelope FROM (", {}};
    sql += smallest->envelopes;
    sql.text += ") s CROSS JOIN search_row r ON r.envelope = s.envelope WHERE ";
  }
  sql += conditions(q, asked, smallest != nullptr && smallest->is_words);
  sql.text += order_of(q.order);
  if (most > 0) sql.text += fmt::format(" LIMIT {}", most);
  return sql;
}

std::vector<std::int64_t> envelopes(Store& store, const Question& q, const Asked& asked, int most) {
  std::vector<std::int64_t> keys;
  for_each_row(store, rows_of(store, q, asked, most),
               [&](SQLite::Statement& row) { keys.push_back(row.getColumn(0).getInt64()); });
  return keys;
}

// Up to `most` in the order asked for; 0 = all.
std::vector<std::int64_t> found(Store& store, const Question& q, int most) {
  Asked asked{groups_of(store, q.words, q.near_misses), groups_of(store, q.place, q.near_misses), false};
  const auto widened = [](const std::vector<Group>& groups) {
    return std::any_of(groups.begin(), groups.end(), [](const Group& group) { return group.size() > 1; });
  };
  const bool fuzzy = q.near_misses && (!asked.words.empty() || widened(asked.place));
  asked.exact = !fuzzy || q.order == Order::best;
  std::vector<std::int64_t> keys = envelopes(store, q, asked, most);
  if (asked.exact && fuzzy && (most == 0 || static_cast<int>(keys.size()) < most)) {
    const std::set<std::int64_t> exact(keys.begin(), keys.end());
    asked.exact = false;
    for (const std::int64_t key : envelopes(store, q, asked, most))
      if (!exact.contains(key)) keys.push_back(key);
    if (most > 0 && static_cast<int>(keys.size()) > most) keys.resize(static_cast<std::size_t>(most));
  }
  return keys;
}

std::vector<std::string> split(const std::string& text) {
  std::vector<std::string> parts;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t end = std::min(text.find(' ', from), text.size());
    parts.push_back(text.substr(from, end - from));
    from = end + 1;
  }
  return parts;
}

Hit hit_of(Store& store, std::int64_t envelope, const std::string& words, const std::string& place) {
  Query row(store,
            "SELECT id, catalogue_number, tin, sheet, side, position, photo, text, date, place, country, lat_deg, lon_deg, "
            "collector, "
            "taxon, level, score, findings, text_confidence, settled, has_words(words, ?) AND has_words(place_words, ?) "
            "FROM search_row WHERE envelope = ?",
            words, place, envelope);
  if (!row.next()) return {};
  Hit hit;
  hit.id = row.text(0);
  hit.catalogue_number = row.text(1);
  hit.tin = row.text(2);
  hit.sheet = row.text(3);
  hit.side = row.text(4);
  hit.position = row.small(5);
  hit.photo = row.text(6);
  hit.text = row.text(7);
  hit.date = row.text(8);
  hit.place = row.text(9);
  hit.country = row.text(10);
  hit.lat_deg = row.maybe_real(11);
  hit.lon_deg = row.maybe_real(12);
  hit.collector = row.text(13);
  hit.taxon = row.text(14);
  hit.level = row.text(15);
  hit.score = row.real(16);
  hit.findings = split(row.text(17));
  hit.text_confidence = row.real(18);
  hit.settled = split(row.text(19));
  hit.exact = row.small(20) != 0;
  return hit;
}

}  // namespace

std::vector<std::string> near_words(Store& store, const std::string& word, std::size_t most) {
  const std::vector<std::string> parts = words_of(folded(word));
  if (parts.size() != 1 || !is_word(parts.front())) return {};
  const std::string& asked = parts.front();
  const double reach = near_enough(asked.size());
  std::set<std::int64_t> seen;
  std::vector<std::pair<double, std::string>> near;
  for (const std::int64_t trace : traces_of(asked)) {
    Query row(store, "SELECT w.key, w.word FROM word_trace t CROSS JOIN word w ON w.key = t.word WHERE t.trace = ?", trace);
    while (row.next()) {
      if (!seen.insert(row.integer(0)).second) continue;
      std::string candidate = row.text(1);
      if (const double edits = misreading(asked, candidate, reach); edits <= reach)
        near.emplace_back(edits, std::move(candidate));
    }
  }
  std::sort(near.begin(), near.end());
  if (near.size() > most) near.resize(most);
  std::vector<std::string> words;
  for (auto& [edits, found_word] : near) words.push_back(std::move(found_word));
  return words;
}

Answer search(Store& store, const Question& question) {
  const int wanted = question.limit == 0 ? 0 : question.skip + question.limit + 1;
  std::vector<std::int64_t> keys = found(store, question, wanted);
  Answer answer;
  answer.more = wanted > 0 && static_cast<int>(keys.size()) == wanted;
  if (answer.more) keys.pop_back();
  const std::string words = needles_of(groups_of(store, question.words, false));
  const std::string place = needles_of(groups_of(store, question.place, false));
  for (std::size_t i = static_cast<std::size_t>(question.skip); i < keys.size(); ++i)
    answer.hits.push_back(hit_of(store, keys[i], words, place));
  return answer;
}

int count(Store& store, const Question& question, int most) {
  Question unordered = question;
  unordered.order = Order::best;
  return static_cast<int>(found(store, unordered, most).size());
}

std::vector<std::int64_t> keys_with_words(Store& store, const Question& question) {
  Question words;
  words.words = question.words;
  words.place = question.place;
  const Asked asked{groups_of(store, question.words, question.near_misses), groups_of(store, question.place, question.near_misses),
                    !question.near_misses};
  std::vector<std::int64_t> keys;
  for (const Source& source : sources(words, asked))
    for_each_row(store, source.envelopes, [&](SQLite::Statement& row) { keys.push_back(row.getColumn(0).getInt64()); });
  return keys;
}

Hit hit_at(Store& store, std::int64_t key, const Question& question) {
  return hit_of(store, key, needles_of(groups_of(store, question.words, false)), needles_of(groups_of(store, question.place, false)));
}

std::vector<Hit> hits_of(Store& store, const std::vector<std::string>& ids) {
  std::set<std::pair<std::string, std::int64_t>> by_shelf;
  for (const std::string& id : ids) {
    Query row(store, "SELECT r.shelf, r.envelope FROM envelope e JOIN search_row r ON r.envelope = coalesce(e.joined_to, e.key) WHERE e.id = ?", id);
    if (row.next()) by_shelf.emplace(row.text(0), row.integer(1));
  }
  std::vector<Hit> hits;
  for (const auto& [shelf, key] : by_shelf) hits.push_back(hit_at(store, key, {}));
  return hits;
}

}  // namespace papillote::store
