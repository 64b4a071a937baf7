#include "pipeline/store/envelopes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <set>

#include "pipeline/record/check_character.h"
#include "pipeline/record/codec.h"
#include "pipeline/store/index_rows.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

constexpr std::string_view kAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";  // Crockford's base 32
constexpr std::size_t kIdLength = 10;
constexpr std::string_view kBetween = " -./_";  // what may stand between the characters of a number

struct Box {
  double left = 0, top = 0, right = 0, bottom = 0;
};

Box box_of(const Polygon& polygon) {
  Box box{polygon[0].x, polygon[0].y, polygon[0].x, polygon[0].y};
  for (const Point& p : polygon) {
    box.left = std::min(box.left, p.x);
    box.right = std::max(box.right, p.x);
    box.top = std::min(box.top, p.y);
    box.bottom = std::max(box.bottom, p.y);
  }
  return box;
}

// Where the horizontal line at `y` enters and leaves the polygon, from left to right.
void crossings(const Polygon& polygon, double y, std::vector<double>& at) {
  at.clear();
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[(i + 1) % polygon.size()];
    if ((a.y <= y) != (b.y <= y)) at.push_back(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
  }
  std::sort(at.begin(), at.end());
}

double length_of(const std::vector<double>& at) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < at.size(); i += 2) sum += at[i + 1] - at[i];
  return sum;
}

double common_length(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0;
  for (std::size_t i = 0, j = 0; i + 1 < a.size() && j + 1 < b.size();) {
    sum += std::max(0.0, std::min(a[i + 1], b[j + 1]) - std::max(a[i], b[j]));
    if (a[i + 1] < b[j + 1])
      i += 2;
    else
      j += 2;
  }
  return sum;
}

struct Identity {
  std::int64_t key = 0;
  std::string id;
};

// An id that no envelope has yet; a clash of two seeds, one in a million at a million envelopes, takes the next.
Identity minted(Store& store, const std::string& seed, const std::optional<std::string>& catalogue_number) {
  for (int turn = 0;; ++turn) {
    const std::string id = mint_id(turn == 0 ? seed : fmt::format("{}\n{}", seed, turn));
    if (Query(store, "SELECT 1 FROM envelope WHERE id = ?", id).next()) continue;
    Query(store, "INSERT INTO envelope(id, catalogue_number) VALUES(?, ?)", id, catalogue_number).run();
    return {last_row(store), id};
  }
}

Identity of_number(Store& store, const std::string& number) {
  {
    Query known(store, "SELECT key, id FROM envelope WHERE catalogue_number = ?", number);
    if (known.next()) return {known.integer(0), known.text(1)};
  }
  return minted(store, "catalogue number\n" + number, number);
}

Identity identity_of(Store& store, std::int64_t key) {
  Query row(store, "SELECT id FROM envelope WHERE key = ?", key);
  (void)row.next();
  return {key, row.text(0)};
}

struct KnownView {
  Identity own;
  Identity stands_for;
  Polygon polygon;
};

std::vector<KnownView> known_views(Store& store, const Digest& photograph) {
  std::vector<KnownView> views;
  Query row(store,
            "SELECT own.key, own.id, now.key, now.id, v.polygon FROM view v JOIN envelope own ON own.key = v.own "
            "JOIN envelope now ON now.key = v.stands_for WHERE v.sha256 = ? ORDER BY own.id",
            photograph.hex);
  while (row.next())
    views.push_back(
        {{row.integer(0), row.text(1)}, {row.integer(2), row.text(3)}, nlohmann::json::parse(row.text(4)).get<Polygon>()});
  return views;
}

struct Match {
  std::size_t record;
  std::size_t view;
  double overlap;
};

// Each outline with at most one known view and the other way round, greatest overlap first.
std::vector<Match> matches(const std::vector<IndexRecord>& records, const std::vector<KnownView>& views) {
  std::vector<Match> candidates;
  for (std::size_t r = 0; r < records.size(); ++r)
    for (std::size_t v = 0; v < views.size(); ++v)
      if (const double common = overlap(records[r].outline.polygon_px, views[v].polygon); common >= kSameEnvelope)
        candidates.push_back({r, v, common});
  std::stable_sort(candidates.begin(), candidates.end(), [](const Match& a, const Match& b) { return a.overlap > b.overlap; });
  std::vector<Match> taken;
  std::set<std::size_t> used_records;
  std::set<std::size_t> used_views;
  for (const Match& match : candidates) {
    if (used_records.contains(match.record) || used_views.contains(match.view)) continue;
    used_records.insert(match.record);
    used_views.insert(match.view);
    taken.push_back(match);
  }
  return taken;
}

}  // namespace

std::string mint_id(std::string_view seed) {
  for (int turn = 0;; ++turn) {
    const std::string hex = digest_of(fmt::format("papillote envelope\n{}\n{}", seed, turn)).hex;
    std::uint64_t bits = std::stoull(hex.substr(0, 16), nullptr, 16);
    std::string id;
    for (std::size_t i = 0; i < kIdLength; ++i) {
      id += kAlphabet[bits >> 59];
      bits <<= 5;
    }
    // The check character may be I, L, O or U, which hands write like others: then the next turn.
    const char check = check_character(id).value();
    if (kAlphabet.find(check) != std::string_view::npos) return id + check;
  }
}

std::optional<std::string> read_id(std::string_view typed) {
  std::string id;
  for (char c : typed) {
    if (c == ' ' || c == '-') continue;
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (c == 'I' || c == 'L') c = '1';
    if (c == 'O') c = '0';
    if (kAlphabet.find(c) == std::string_view::npos) return std::nullopt;
    id += c;
  }
  if (id.size() != kIdLength + 1 || !is_checked(id)) return std::nullopt;
  return id;
}

double overlap(const Polygon& a, const Polygon& b) {
  if (a.size() < 3 || b.size() < 3) return 0;
  const Box x = box_of(a);
  const Box y = box_of(b);
  if (x.right <= y.left || y.right <= x.left || x.bottom <= y.top || y.bottom <= x.top) return 0;
  constexpr int kLines = 256;
  const double top = std::min(x.top, y.top);
  const double step = (std::max(x.bottom, y.bottom) - top) / kLines;
  double area_a = 0;
  double area_b = 0;
  double common = 0;
  std::vector<double> at_a;
  std::vector<double> at_b;
  for (int i = 0; i < kLines; ++i) {
    const double line = top + (i + 0.5) * step;
    crossings(a, line, at_a);
    crossings(b, line, at_b);
    area_a += length_of(at_a);
    area_b += length_of(at_b);
    common += common_length(at_a, at_b);
  }
  const double all = area_a + area_b - common;
  return all > 0 ? common / all : 0;
}

void settle_identity(Store& store, const Digest& photograph, std::vector<IndexRecord>& records) {
  std::map<std::string, std::vector<std::size_t>> by_number;
  for (std::size_t i = 0; i < records.size(); ++i)
    if (!records[i].catalogue_number.empty()) by_number[records[i].catalogue_number].push_back(i);

  std::vector<std::optional<Identity>> number_of(records.size());
  std::set<std::int64_t> used;
  for (const auto& [number, holders] : by_number) {
    if (holders.size() == 1) {
      number_of[holders.front()] = of_number(store, number);
      used.insert(number_of[holders.front()]->key);
      continue;
    }
    for (const std::size_t i : holders) {
      records[i].slip_doubt = fmt::format("The number {} lies by {} envelopes of this photograph.", number, holders.size());
      records[i].catalogue_number.clear();
    }
  }

  const std::vector<KnownView> views = known_views(store, photograph);
  std::vector<std::optional<Identity>> own(records.size());
  for (const Match& match : matches(records, views)) {
    const KnownView& view = views[match.view];
    own[match.record] = view.own;
    // A slip that was read once and is not now still lies there, unless it has turned out to lie by another envelope.
    if (!number_of[match.record] && view.stands_for.key != view.own.key && used.insert(view.stands_for.key).second)
      number_of[match.record] = view.stands_for;
  }
  for (std::size_t i = 0; i < records.size(); ++i) {
    if (!own[i]) {
      const Point middle = centroid_of(records[i].outline.polygon_px);
      own[i] = minted(store, fmt::format("{}\n{:.0f},{:.0f}", photograph.hex, middle.x, middle.y), std::nullopt);
    }
    const Identity& stands_for = number_of[i] ? *number_of[i] : *own[i];
    const Identity now = identity_of(store, counts_as(store, stands_for.key));
    records[i].id = now.id;
    Query(store, "UPDATE envelope SET joined_to = ? WHERE key = ?", now.key == own[i]->key ? std::nullopt : std::optional(now.key),
          own[i]->key)
        .run();
    Query(store,
          "INSERT INTO view(sha256, own, stands_for, polygon) VALUES(?, ?, ?, ?) "
          "ON CONFLICT DO UPDATE SET stands_for = excluded.stands_for, polygon = excluded.polygon",
          photograph.hex, own[i]->key, stands_for.key, canonical(nlohmann::json(records[i].outline.polygon_px)))
        .run();
  }
}

void count_as(Store& store, const Digest& photograph, const std::string& id, const Digest& front, const std::string& other) {
  const auto shown_as = [&](const KnownView& view, const std::string& as) {
    return identity_of(store, counts_as(store, view.stands_for.key)).id == as;
  };
  std::optional<std::int64_t> stands_for;
  for (const KnownView& view : known_views(store, front))
    if (!other.empty() && shown_as(view, other)) stands_for = view.stands_for.key;
  for (const KnownView& view : known_views(store, photograph))
    if (shown_as(view, id))
      Query(store, "UPDATE view SET stands_for = ? WHERE sha256 = ? AND own = ?", stands_for.value_or(view.own.key), photograph.hex, view.own.key)
          .run();
}

std::int64_t counts_as(Store& store, std::int64_t envelope) {
  for (;;) {
    Query row(store,
              "SELECT s.earlier FROM sameness s WHERE s.newer = ? AND s.verdict = 'same' AND NOT EXISTS "
              "(SELECT 1 FROM sameness t WHERE t.newer = s.newer AND t.earlier = s.earlier AND t.key > s.key)",
              envelope);
    if (!row.next()) return envelope;
    envelope = row.integer(0);
  }
}

std::optional<std::string> current_id(Store& store, const std::string& id) {
  Query row(store, "SELECT now.id FROM envelope e JOIN envelope now ON now.key = coalesce(e.joined_to, e.key) WHERE e.id = ?",
            id);
  if (!row.next()) return std::nullopt;
  return row.text(0);
}

std::optional<std::string> id_of_catalogue_number(Store& store, const std::string& number) {
  {
    Query row(store,
              "SELECT now.id FROM envelope e JOIN envelope now ON now.key = coalesce(e.joined_to, e.key) WHERE e.catalogue_number = ?",
              number);
    if (row.next()) return row.text(0);
  }
  std::string bare;
  for (const char c : number) {
    if (kBetween.find(c) != std::string_view::npos) continue;
    bare += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  if (bare.empty()) return std::nullopt;
  Query row(
      store,
      "SELECT now.id FROM envelope e JOIN envelope now ON now.key = coalesce(e.joined_to, e.key) "
      "WHERE e.catalogue_number IS NOT NULL AND "
      "upper(replace(replace(replace(replace(replace(e.catalogue_number, ' ', ''), '-', ''), '.', ''), '/', ''), '_', '')) = ?",
      bare);
  if (!row.next()) return std::nullopt;
  std::string id = row.text(0);
  if (row.next()) return std::nullopt;  // two numbers that differ by their marks alone: only the exact one will do
  return id;
}

std::string catalogue_number_of(Store& store, const std::string& id) {
  // Its own, or that of a slip that lay by it when it was photographed again.
  Query row(store,
            "SELECT e.catalogue_number FROM envelope asked JOIN envelope e ON e.key = asked.key OR e.joined_to = asked.key "
            "WHERE asked.id = ? AND e.catalogue_number IS NOT NULL ORDER BY e.key <> asked.key",
            id);
  return row.next() ? row.text(0) : "";
}

}  // namespace papillote::store
