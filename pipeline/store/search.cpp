#include "pipeline/store/search.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "pipeline/store/inside.h"

namespace papillote::store {
namespace {

constexpr double kEarth_km = 6371.0;

double distance_km(double lat_a, double lon_a, double lat_b, double lon_b) {
  const double rad = std::numbers::pi / 180;
  const double dlat = (lat_b - lat_a) * rad;
  const double dlon = (lon_b - lon_a) * rad;
  const double h = std::pow(std::sin(dlat / 2), 2) + std::cos(lat_a * rad) * std::cos(lat_b * rad) * std::pow(std::sin(dlon / 2), 2);
  return 2 * kEarth_km * std::asin(std::min(1.0, std::sqrt(h)));
}

// Letters that have to change for one word to become the other, up to `most`.
std::size_t letters_apart(const std::string& a, const std::string& b, std::size_t most) {
  if (a.size() > b.size() + most || b.size() > a.size() + most) return most + 1;
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U)});
      diagonal = above;
    }
  }
  return row.back();
}

// How many letters a reader may have mistaken in a word before it is another word.
std::size_t reach_of(const std::string& word) {
  if (std::any_of(word.begin(), word.end(), [](char c) { return c >= '0' && c <= '9'; })) return 0;
  return word.size() < 4 ? 0 : word.size() < 6 ? 1 : word.size() < 10 ? 2 : 3;
}

struct Term {
  std::string word;
  bool beginning = false;
};

std::vector<Term> terms_of(const Folder& folder, const std::string& typed) {
  std::vector<Term> terms;
  std::size_t at = 0;
  while (at < typed.size()) {
    const std::size_t blank = std::min(typed.find(' ', at), typed.size());
    const std::string piece = typed.substr(at, blank - at);
    const auto words = folder.words(piece);
    for (std::size_t i = 0; i < words.size(); ++i) terms.push_back({words[i], i + 1 == words.size() && piece.ends_with('*')});
    at = blank + 1;
  }
  return terms;
}

std::string match_of(Store& store, const std::vector<Term>& terms, bool near_misses) {
  std::string match;
  for (const Term& term : terms) {
    if (!match.empty()) match += " AND ";
    match += fmt::format("(\"{}\"{}", term.word, term.beginning ? "*" : "");
    if (near_misses && !term.beginning)
      for (const std::string& near : near_words(store, term.word)) match += fmt::format(" OR \"{}\"", near);
    match += ")";
  }
  return match;
}

struct Condition {
  std::vector<std::string> parts;
  std::vector<std::function<void(SQLite::Statement&, int)>> values;

  template <class Value>
  void with(std::string part, Value value) {
    parts.push_back(std::move(part));
    values.emplace_back([value](SQLite::Statement& s, int at) { s.bind(at, value); });
  }
};

// Everything but the words, which differ between the exact and the near pass.
Condition condition_of(Store& store, const Question& question) {
  Condition condition;
  if (question.near) {
    const Near& near = *question.near;
    const double lat = near.km / 111.0;
    const double lon = std::min(180.0, near.km / (111.0 * std::max(0.01, std::cos(near.lat_deg * std::numbers::pi / 180))));
    const auto box = [&](double middle) {
      return fmt::format("(south <= {} AND north >= {} AND west <= {} AND east >= {})", near.lat_deg + lat, near.lat_deg - lat, middle + lon, middle - lon);
    };
    // The box may reach over the date line.
    condition.parts.push_back(fmt::format("row IN (SELECT row FROM entry_point WHERE {} OR {} OR {})", box(near.lon_deg), box(near.lon_deg - 360), box(near.lon_deg + 360)));
  }
  if (question.period) {
    // An open end has no day: the tree then holds the far end.
    condition.parts.push_back(fmt::format("row IN (SELECT row FROM entry_days WHERE first <= {} AND last >= {})", question.period->last, question.period->first));
  }
  if (question.tin) condition.with("tin = ?", *question.tin);
  if (!question.taxon.empty()) {
    const std::string begin = store.inside().folder.joined(question.taxon);
    condition.with("folded_taxon >= ?", begin);
    condition.with("folded_taxon < ?", begin + "\xf4\x8f\xbf\xbf");
  }
  if (!question.level.empty()) condition.with("level = ?", question.level);
  if (!question.finding.empty()) {
    condition.with("row IN (SELECT row FROM entry_finding WHERE kind = ? AND severity >= " + std::to_string(question.least_severity) + ")", question.finding);
  }
  if (question.place_open) condition.parts.emplace_back("place_open = 1");
  if (question.text_confidence_below) condition.with("text_confidence < ?", *question.text_confidence_below);
  return condition;
}

const char* order_of(Order order) {
  switch (order) {
    case Order::best: return " ORDER BY row";
    case Order::shelf: return " ORDER BY tin, length(sheet), sheet, side = 'back', position, row";
    case Order::priority: return " ORDER BY score DESC, row";
    case Order::date: return " ORDER BY first_day IS NULL, first_day, row";
  }
  return "";
}

constexpr const char* kColumns =
    "id, catalogue_number, tin, sheet, side, position, photo, text, date, place, country, lat_deg, lon_deg, collector, taxon, level, score, findings, "
    "text_confidence, settled, first_day, last_day";

Hit hit_in(SQLite::Statement& find, bool exact) {
  Hit hit;
  hit.id = find.getColumn(0).getString();
  hit.catalogue_number = find.getColumn(1).getString();
  hit.tin = find.getColumn(2).getString();
  hit.sheet = find.getColumn(3).getString();
  hit.side = find.getColumn(4).getString();
  hit.position = find.getColumn(5).getInt();
  hit.photo = find.getColumn(6).getString();
  hit.text = find.getColumn(7).getString();
  hit.date = find.getColumn(8).getString();
  hit.place = find.getColumn(9).getString();
  hit.country = find.getColumn(10).getString();
  if (!find.getColumn(11).isNull()) hit.lat_deg = find.getColumn(11).getDouble();
  if (!find.getColumn(12).isNull()) hit.lon_deg = find.getColumn(12).getDouble();
  hit.collector = find.getColumn(13).getString();
  hit.taxon = find.getColumn(14).getString();
  hit.level = find.getColumn(15).getString();
  hit.score = find.getColumn(16).getDouble();
  for (const auto& finding : nlohmann::json::parse(find.getColumn(17).getString())) {
    const auto kind = finding.at(0).get<std::string>();
    if (std::find(hit.findings.begin(), hit.findings.end(), kind) == hit.findings.end()) hit.findings.push_back(kind);
  }
  hit.text_confidence = find.getColumn(18).getDouble();
  hit.settled = nlohmann::json::parse(find.getColumn(19).getString()).get<std::vector<std::string>>();
  hit.exact = exact;
  return hit;
}

// Hands each envelope once, exact hits first, until `take` says enough.
void each_hit(Store& store, const Question& question, const std::function<bool(Hit)>& take) {
  const Folder& folder = store.inside().folder;
  const std::vector<Term> words = terms_of(folder, question.words);
  const std::vector<Term> places = terms_of(folder, question.place);
  const Condition condition = condition_of(store, question);
  std::set<std::string> seen;
  const bool worded = !words.empty() || !places.empty();
  for (const bool near_pass : {false, true}) {
    if (near_pass && (!worded || !question.near_misses)) return;
    std::string match = match_of(store, words, near_pass);
    if (!places.empty()) match += fmt::format("{}place_words : ({})", match.empty() ? "" : " AND ", match_of(store, places, near_pass));
    std::string query = fmt::format("SELECT {} FROM entry WHERE 1", kColumns);
    if (worded) query += " AND row IN (SELECT rowid FROM entry_words WHERE entry_words MATCH ?)";
    for (const std::string& part : condition.parts) query += " AND " + part;
    query += order_of(question.order);
    const bool enough = with_database(store, [&](SQLite::Database& database) {
      SQLite::Statement find(database, query);
      int at = 0;
      if (worded) find.bind(++at, match);
      for (const auto& value : condition.values) value(find, ++at);
      while (find.executeStep()) {
        Hit hit = hit_in(find, !near_pass);
        if (question.near && (!hit.lat_deg || distance_km(question.near->lat_deg, question.near->lon_deg, *hit.lat_deg, *hit.lon_deg) > question.near->km)) continue;
        // The tree keeps 32-bit floats: its edges are looked at again.
        if (question.period && (find.getColumn(20).getInt() > question.period->last || find.getColumn(21).getInt() < question.period->first)) continue;
        if (!seen.insert(hit.id).second) continue;
        if (!take(std::move(hit))) return true;
      }
      return false;
    });
    if (enough) return;
  }
}

}  // namespace

Answer search(Store& store, const Question& question) {
  Answer answer;
  int skipped = 0;
  each_hit(store, question, [&](Hit hit) {
    if (skipped < question.skip) {
      ++skipped;
      return true;
    }
    if (question.limit > 0 && static_cast<int>(answer.hits.size()) == question.limit) {
      answer.more = true;
      return false;
    }
    answer.hits.push_back(std::move(hit));
    return true;
  });
  return answer;
}

int count(Store& store, const Question& question, int most) {
  int number = 0;
  each_hit(store, question, [&](const Hit&) { return ++number < most; });
  return number;
}

std::vector<std::string> near_words(Store& store, const std::string& word, std::size_t most) {
  const std::size_t reach = reach_of(word);
  if (reach == 0) return {};
  std::string match;
  for (std::size_t i = 0; i + 3 <= word.size(); ++i) match += fmt::format("{}\"{}\"", match.empty() ? "" : " OR ", word.substr(i, 3));
  return with_database(store, [&](SQLite::Database& database) {
    std::vector<std::pair<std::size_t, std::string>> near;
    SQLite::Statement find(database,
                           "SELECT word FROM word WHERE uses > 0 AND number IN (SELECT rowid FROM word_letters WHERE word_letters MATCH ? LIMIT 20000) "
                           "AND length(word) BETWEEN ? AND ?");
    find.bind(1, match);
    find.bind(2, static_cast<int>(word.size() - reach));
    find.bind(3, static_cast<int>(word.size() + reach));
    while (find.executeStep()) {
      const std::string other = find.getColumn(0).getString();
      const std::size_t apart = letters_apart(word, other, reach);
      if (apart > 0 && apart <= reach) near.emplace_back(apart, other);
    }
    std::sort(near.begin(), near.end());
    std::vector<std::string> words;
    for (auto& [apart, other] : near) {
      if (words.size() == most) break;
      words.push_back(std::move(other));
    }
    return words;
  });
}

}  // namespace papillote::store
