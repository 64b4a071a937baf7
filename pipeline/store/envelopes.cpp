#include "pipeline/store/envelopes.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "pipeline/record/check_character.h"
#include "pipeline/record/codec.h"
#include "pipeline/record/digest.h"
#include "pipeline/store/inside.h"

namespace papillote::store {
namespace {

constexpr std::string_view kAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";  // Crockford's: no I, L, O, U
constexpr std::size_t kLength = 10;

Point middle_of(const Polygon& polygon) {
  Point sum;
  for (const Point& p : polygon) {
    sum.x += p.x / static_cast<double>(polygon.size());
    sum.y += p.y / static_cast<double>(polygon.size());
  }
  return sum;
}

// Where the horizontal line at `y` is inside the polygon, by the even-odd rule: sorted pairs of x.
std::vector<double> crossings(const Polygon& polygon, double y) {
  std::vector<double> xs;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[(i + 1) % polygon.size()];
    if ((a.y <= y) == (b.y <= y)) continue;
    xs.push_back(a.x + (y - a.y) * (b.x - a.x) / (b.y - a.y));
  }
  std::sort(xs.begin(), xs.end());
  return xs;
}

double length_of(const std::vector<double>& xs) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < xs.size(); i += 2) sum += xs[i + 1] - xs[i];
  return sum;
}

double common_length(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < a.size(); i += 2)
    for (std::size_t j = 0; j + 1 < b.size(); j += 2) sum += std::max(0.0, std::min(a[i + 1], b[j + 1]) - std::max(a[i], b[j]));
  return sum;
}

struct KnownView {
  std::string own_id;
  std::string id;
  Polygon polygon;
};

std::vector<KnownView> known_views(SQLite::Database& database, const Digest& photograph) {
  std::vector<KnownView> known;
  SQLite::Statement find(database, "SELECT own_id, id, polygon FROM view WHERE sha256 = ? ORDER BY own_id");
  find.bind(1, photograph.hex);
  while (find.executeStep())
    known.push_back({find.getColumn(0).getString(), find.getColumn(1).getString(), nlohmann::json::parse(find.getColumn(2).getString()).get<Polygon>()});
  return known;
}

bool is_minted(SQLite::Database& database, const std::string& id) {
  SQLite::Statement find(database, "SELECT 1 FROM envelope WHERE id = ?");
  find.bind(1, id);
  return find.executeStep();
}

void keep_envelope(SQLite::Database& database, const std::string& id, const std::string& catalogue_number) {
  SQLite::Statement keep(database, "INSERT OR IGNORE INTO envelope (id, catalogue_number) VALUES (?, ?)");
  keep.bind(1, id);
  if (catalogue_number.empty())
    keep.bind(2);
  else
    keep.bind(2, catalogue_number);
  keep.exec();
}

}  // namespace

std::string mint_id(std::string_view seed) {
  // The check character can be one of the four letters that the alphabet lacks: then the next digest is tried.
  for (int attempt = 0;; ++attempt) {
    const std::string hex = digest_of(fmt::format("{}#{}", seed, attempt)).hex;
    std::string id;
    for (std::size_t i = 0; i < kLength; ++i) {
      const int five_bits = std::stoi(hex.substr(2 * i, 2), nullptr, 16) & 31;
      id.push_back(kAlphabet[static_cast<std::size_t>(five_bits)]);
    }
    const auto check = check_character(id);
    if (check && kAlphabet.find(*check) != std::string_view::npos) return id + *check;
  }
}

std::optional<std::string> read_id(std::string_view typed) {
  std::string id;
  for (const char raw : typed) {
    if (raw == ' ' || raw == '-') continue;
    char c = static_cast<char>(std::toupper(static_cast<unsigned char>(raw)));
    if (c == 'I' || c == 'L') c = '1';
    if (c == 'O') c = '0';
    if (kAlphabet.find(c) == std::string_view::npos) return std::nullopt;
    id.push_back(c);
  }
  if (id.size() != kLength + 1 || !is_checked(id)) return std::nullopt;
  return id;
}

double overlap(const Polygon& a, const Polygon& b) {
  if (a.size() < 3 || b.size() < 3) return 0;
  double top = a[0].y;
  double bottom = a[0].y;
  for (const Polygon* polygon : {&a, &b})
    for (const Point& p : *polygon) {
      top = std::min(top, p.y);
      bottom = std::max(bottom, p.y);
    }
  if (bottom <= top) return 0;
  constexpr int kLines = 512;
  double common = 0;
  double whole = 0;
  for (int i = 0; i < kLines; ++i) {
    const double y = top + (bottom - top) * (i + 0.5) / kLines;
    const auto in_a = crossings(a, y);
    const auto in_b = crossings(b, y);
    const double both = common_length(in_a, in_b);
    common += both;
    whole += length_of(in_a) + length_of(in_b) - both;
  }
  return whole > 0 ? common / whole : 0;
}

void settle_identity(Store& store, const Digest& photograph, std::vector<IndexRecord>& records) {
  with_database(store, [&](SQLite::Database& database) {
    const std::vector<KnownView> known = known_views(database, photograph);
    // Best overlaps first; ties go to the earlier outline, so that the answer does not depend on chance.
    std::vector<std::tuple<double, std::size_t, std::size_t>> pairs;
    for (std::size_t r = 0; r < records.size(); ++r)
      for (std::size_t k = 0; k < known.size(); ++k)
        if (const double share = overlap(records[r].outline.polygon_px, known[k].polygon); share >= kSameEnvelope) pairs.emplace_back(-share, r, k);
    std::sort(pairs.begin(), pairs.end());
    std::vector<std::string> own_ids(records.size());
    std::vector<bool> taken(known.size(), false);
    for (const auto& [share, r, k] : pairs) {
      if (!own_ids[r].empty() || taken[k]) continue;
      own_ids[r] = known[k].own_id;
      taken[k] = true;
    }
    for (std::size_t r = 0; r < records.size(); ++r) {
      if (!own_ids[r].empty()) continue;
      const Point middle = middle_of(records[r].outline.polygon_px);
      std::string seed = fmt::format("{}@{:.0f},{:.0f}", photograph.hex, middle.x, middle.y);
      do {
        own_ids[r] = mint_id(seed);
        seed += '+';
      } while (is_minted(database, own_ids[r]) || std::count(own_ids.begin(), own_ids.end(), own_ids[r]) > 1);
    }

    std::map<std::string, int> uses;
    for (const IndexRecord& record : records)
      if (!record.catalogue_number.empty()) ++uses[record.catalogue_number];
    for (IndexRecord& record : records) {
      if (record.catalogue_number.empty() || uses[record.catalogue_number] == 1) continue;
      record.slip_doubt = fmt::format("the number {} lies by two envelopes of this photograph", record.catalogue_number);
      record.catalogue_number.clear();
    }

    SQLite::Statement retire(database, "UPDATE view SET retired = 1 WHERE sha256 = ?");
    retire.bind(1, photograph.hex);
    retire.exec();
    SQLite::Statement keep(database, "INSERT OR REPLACE INTO view (sha256, own_id, id, polygon, retired) VALUES (?, ?, ?, ?, 0)");
    SQLite::Statement join(database, "INSERT OR REPLACE INTO joined (old_id, new_id) VALUES (?, ?)");
    SQLite::Statement part(database, "DELETE FROM joined WHERE old_id = ?");
    for (std::size_t r = 0; r < records.size(); ++r) {
      IndexRecord& record = records[r];
      keep_envelope(database, own_ids[r], "");
      record.id = own_ids[r];
      if (!record.catalogue_number.empty()) {
        record.id = mint_id("number " + record.catalogue_number);
        keep_envelope(database, record.id, record.catalogue_number);
        join.reset();
        join.bind(1, own_ids[r]);
        join.bind(2, record.id);
        join.exec();
      } else {
        part.reset();
        part.bind(1, own_ids[r]);
        part.exec();
      }
      keep.reset();
      keep.bind(1, photograph.hex);
      keep.bind(2, own_ids[r]);
      keep.bind(3, record.id);
      keep.bind(4, canonical(record.outline.polygon_px));
      keep.exec();
    }
  });
}

std::optional<std::string> current_id(Store& store, const std::string& id) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<std::string> {
    SQLite::Statement joined(database, "SELECT new_id FROM joined WHERE old_id = ?");
    joined.bind(1, id);
    if (joined.executeStep()) return joined.getColumn(0).getString();
    return is_minted(database, id) ? std::optional(id) : std::nullopt;
  });
}

std::optional<std::string> id_of_catalogue_number(Store& store, const std::string& number) {
  return with_database(store, [&](SQLite::Database& database) -> std::optional<std::string> {
    SQLite::Statement find(database, "SELECT id FROM envelope WHERE catalogue_number = ?");
    find.bind(1, number);
    if (!find.executeStep()) return std::nullopt;
    return find.getColumn(0).getString();
  });
}

}  // namespace papillote::store
