#include "pipeline/store/overview.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>

#include "pipeline/store/search_functions.h"
#include "pipeline/store/sqlite.h"
#include "pipeline/store/words.h"

namespace papillote::store {
namespace {

// Which part of the question a row does not answer.
enum Miss : unsigned { kWords = 1, kNear = 2, kPeriod = 4, kTin = 8, kTaxon = 16, kFinding = 32, kLevel = 64, kProgress = 128 };

int year_of(int day) {
  return static_cast<int>(std::chrono::year_month_day(std::chrono::sys_days(std::chrono::days(day))).year());
}

bool has_term(const std::string& settled, const std::string& term) {
  return (" " + settled + " ").find(" " + term + " ") != std::string::npos;
}

std::vector<std::pair<std::string, int>> named(const std::vector<std::string>& names, const std::vector<int>& counts, bool most_first) {
  std::vector<std::pair<std::string, int>> all;
  for (std::size_t i = 0; i < counts.size(); ++i)
    if (counts[i] > 0) all.emplace_back(names[i], counts[i]);
  if (most_first)
    std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.second > b.second; });
  return all;
}

}  // namespace

int Overview::Names::index_of(const std::string& name) {
  const auto [at, fresh] = at_.try_emplace(name, static_cast<int>(all.size()));
  if (fresh) all.push_back(name);
  return at->second;
}

int Overview::Names::find(const std::string& name) const {
  const auto at = at_.find(name);
  return at == at_.end() ? -1 : at->second;
}

void Overview::read_rows(Store& store, const std::string* id) {
  constexpr const char* kAll =
      "SELECT envelope, tin, level, taxon, taxon_folded, first_day, last_day, lat_deg, lon_deg, score, text_confidence, settled, "
      "text = '', id FROM search_row ORDER BY shelf, envelope";
  constexpr const char* kOne =
      "SELECT envelope, tin, level, taxon, taxon_folded, first_day, last_day, lat_deg, lon_deg, score, text_confidence, settled, "
      "text = '', id FROM search_row WHERE id = ?";
  const auto take = [&](Query& row) {
    while (row.next()) {
      Row one;
      one.key = row.integer(0);
      one.tin = tins_.index_of(row.text(1));
      one.level = levels_.index_of(row.text(2));
      one.taxon = taxa_.index_of(row.text(3));
      one.taxon_folded = row.text(4);
      one.dated = !row.is_null(5);
      if (one.dated) {
        one.first_day = row.small(5);
        one.last_day = row.small(6);
      }
      one.placed = !row.is_null(7);
      if (one.placed) {
        one.lat_deg = row.real(7);
        one.lon_deg = row.real(8);
      }
      one.score = row.real(9);
      const std::string settled = row.text(11);
      one.confirmed = has_term(settled, "confirmed");
      // An envelope without writing is looked at after the doubtful ones: there may be nothing to read.
      const bool empty = row.small(12) != 0;
      one.doubt = empty ? 0.4 : 1 - row.real(10) + (one.dated ? 0 : 0.3) + (one.placed ? 0 : 0.3);
      one.id = row.text(13);
      const auto [at, fresh] = by_key_.try_emplace(one.key, rows_.size());
      if (fresh)
        rows_.push_back(std::move(one));
      else
        rows_[at->second] = std::move(one);
    }
  };
  if (id != nullptr) {
    Query row(store, kOne, *id);
    take(row);
    Query finding(store,
                  "SELECT f.envelope, f.kind, f.severity FROM search_row r JOIN search_finding f ON f.envelope = r.envelope WHERE r.id = ?", *id);
    while (finding.next())
      rows_[by_key_.at(finding.integer(0))].findings.emplace_back(kinds_.index_of(finding.text(1)), finding.small(2));
    return;
  }
  Query row(store, kAll);
  take(row);
  Query finding(store, "SELECT envelope, kind, severity FROM search_finding");
  while (finding.next())
    if (const auto at = by_key_.find(finding.integer(0)); at != by_key_.end())
      rows_[at->second].findings.emplace_back(kinds_.index_of(finding.text(1)), finding.small(2));
}

void Overview::load(Store& store) {
  *this = {};
  read_rows(store, nullptr);
}

void Overview::renew(Store& store, const std::vector<std::string>& ids) {
  for (const std::string& id : ids) read_rows(store, &id);
}

std::vector<std::size_t> Overview::answering(Store& store, const Look& look, Counts* counts) const {
  const Question& q = look.question;
  std::vector<char> has_words;
  const bool words = !words_of(folded(q.words)).empty() || !words_of(folded(q.place)).empty();
  if (words) {
    has_words.resize(rows_.size());
    for (const std::int64_t key : keys_with_words(store, q))
      if (const auto at = by_key_.find(key); at != by_key_.end()) has_words[at->second] = 1;
  }
  const int tin = q.tin ? tins_.find(*q.tin) : -1;
  const int level = levels_.find(q.level);
  const int kind = kinds_.find(q.finding);
  const std::string taxon = folded(q.taxon);
  std::vector<int> tins(tins_.all.size()), levels(levels_.all.size()), kinds(kinds_.all.size()), taxa(taxa_.all.size());
  std::map<int, double> years;
  std::map<std::pair<int, int>, Spot> spots;
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const Row& row = rows_[i];
    unsigned miss = 0;
    if (words && has_words[i] == 0) miss |= kWords;
    if (q.near && (!row.placed || std::abs(row.lat_deg - q.near->lat_deg) > q.near->km / 111.0 ||
                   km_between(row.lat_deg, row.lon_deg, q.near->lat_deg, q.near->lon_deg) > q.near->km))
      miss |= kNear;
    if (q.period && (!row.dated || row.last_day < q.period->first || row.first_day > q.period->last)) miss |= kPeriod;
    if (q.tin && row.tin != tin) miss |= kTin;
    if (!taxon.empty() && !row.taxon_folded.starts_with(taxon)) miss |= kTaxon;
    if (!q.finding.empty() && std::none_of(row.findings.begin(), row.findings.end(),
                                           [&](const auto& f) { return f.first == kind && f.second >= q.least_severity; }))
      miss |= kFinding;
    if (!q.level.empty() && row.level != level) miss |= kLevel;
    if (q.place_open && row.placed) miss |= kNear;
    if (look.progress != Progress::any && row.confirmed != (look.progress == Progress::confirmed)) miss |= kProgress;
    if (miss == 0) found.push_back(i);
    if (counts == nullptr) continue;
    const auto but = [&](unsigned own) { return (miss & ~own) == 0; };
    if (but(kTin)) ++tins[static_cast<std::size_t>(row.tin)];
    if (but(kLevel)) ++levels[static_cast<std::size_t>(row.level)];
    if (but(kTaxon)) ++taxa[static_cast<std::size_t>(row.taxon)];
    if (but(kFinding))
      for (const auto& [seen, severity] : row.findings)
        if (severity >= q.least_severity) ++kinds[static_cast<std::size_t>(seen)];
    if (but(kPeriod)) {
      const bool ends = row.dated && row.first_day > kNoFirstDay && row.last_day < kNoLastDay;
      const int first = ends ? year_of(row.first_day) : 0;
      const int last = ends ? year_of(row.last_day) : 0;
      if (!ends || last - first >= kWideYears)
        ++counts->undated;
      else
        for (int year = first; year <= last; ++year) years[year] += 1.0 / (last - first + 1);
    }
    if (but(kNear)) {
      if (row.placed) {
        Spot& spot = spots[{static_cast<int>(std::floor(row.lat_deg / look.spot_deg)), static_cast<int>(std::floor(row.lon_deg / look.spot_deg))}];
        ++spot.count;
        spot.lat_deg += (row.lat_deg - spot.lat_deg) / spot.count;
        spot.lon_deg += (row.lon_deg - spot.lon_deg) / spot.count;
      } else {
        ++counts->placeless;
      }
    }
  }
  if (counts != nullptr) {
    counts->found = static_cast<int>(found.size());
    counts->confirmed = static_cast<int>(std::count_if(found.begin(), found.end(), [&](std::size_t i) { return rows_[i].confirmed; }));
    counts->tins = named(tins_.all, tins, false);
    counts->levels = named(levels_.all, levels, true);
    counts->findings = named(kinds_.all, kinds, true);
    counts->taxa = named(taxa_.all, taxa, true);
    std::erase_if(counts->taxa, [](const auto& one) { return one.first.empty(); });
    if (counts->taxa.size() > kTaxaShown) counts->taxa.resize(kTaxaShown);
    counts->years.assign(years.begin(), years.end());
    for (auto& [square, spot] : spots) counts->spots.push_back(spot);
  }
  const auto before = [&](auto less) {
    std::stable_sort(found.begin(), found.end(), [&](std::size_t a, std::size_t b) { return less(rows_[a], rows_[b]); });
  };
  if (look.sight == Sight::priority) before([](const Row& a, const Row& b) { return a.score > b.score; });
  if (look.sight == Sight::doubt)
    before([](const Row& a, const Row& b) { return std::pair(a.confirmed, -a.doubt) < std::pair(b.confirmed, -b.doubt); });
  if (look.sight == Sight::date)
    before([](const Row& a, const Row& b) { return std::tuple(!a.dated, a.first_day, a.last_day) < std::tuple(!b.dated, b.first_day, b.last_day); });
  return found;
}

Seen Overview::look(Store& store, const Look& look) const {
  Seen seen;
  const std::vector<std::size_t> found = answering(store, look, &seen.counts);
  const std::size_t end = std::min(found.size(), static_cast<std::size_t>(look.skip) + static_cast<std::size_t>(look.limit));
  for (std::size_t i = static_cast<std::size_t>(look.skip); i < end; ++i)
    seen.hits.push_back(hit_at(store, rows_[found[i]].key, look.question));
  return seen;
}

std::vector<std::string> Overview::ids(Store& store, const Look& look, int most) const {
  std::vector<std::string> all;
  for (const std::size_t i : answering(store, look, nullptr)) {
    if (most > 0 && static_cast<int>(all.size()) == most) break;
    all.push_back(rows_[i].id);
  }
  return all;
}

}  // namespace papillote::store
