#include "stages/interpretation/gazetteer_build.h"

#include <unicode/locid.h>
#include <unicode/unistr.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstring>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <numbers>
#include <numeric>
#include <optional>
#include <set>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "stages/interpretation/gazetteer_format.h"
#include "stages/interpretation/place_names.h"

namespace papillote::interpretation {

using namespace format;
namespace fs = std::filesystem;

namespace {

constexpr const char* kRemedy = "Run scripts/fetch_gazetteer again, or name the right file.";

Failure unreadable(const fs::path& path, std::string why) {
  return {"interpretation", "unreadable", path.string() + " " + std::move(why) + ".", kRemedy};
}

// ---- numbers and columns

std::optional<double> number_in(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

bool on_earth(double lat_deg, double lon_deg) { return std::abs(lat_deg) <= 90 && std::abs(lon_deg) <= 180; }

void split(std::string_view text, char separator, std::vector<std::string_view>& out) {
  out.clear();
  for (;;) {
    const auto end = text.find(separator);
    out.push_back(text.substr(0, end));
    if (end == std::string_view::npos) return;
    text.remove_prefix(end + 1);
  }
}

std::string lower(std::string_view text) {
  std::string out{text};
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

// ---- how large a place is when its source does not say

// Fitted so that nine in ten dated records lie within it: half of the gazetteer's settlements have no population.
double estimated_radius_m(PlaceKind kind, std::uint32_t population) {
  switch (kind) {
    case PlaceKind::settlement:
      return 4000 + 40 * std::sqrt(static_cast<double>(population));
    case PlaceKind::country:
    case PlaceKind::former_country:
      return 800'000;
    case PlaceKind::division1:
      return 200'000;
    case PlaceKind::division2:
      return 50'000;
    case PlaceKind::island:
      return 25'000;
    case PlaceKind::mountain:
      return 10'000;
    case PlaceKind::region:
      return 50'000;
    case PlaceKind::water:
      return 15'000;
    case PlaceKind::other:
      break;
  }
  return 5'000;
}

// ---- GeoNames feature codes and plain words to kinds

PlaceKind kind_of_geonames(std::string_view feature_class, std::string_view code) {
  switch (feature_class.empty() ? '\0' : feature_class[0]) {
    case 'A':
      if (code.starts_with("ADM1")) return PlaceKind::division1;
      if (code.starts_with("PCLH")) return PlaceKind::former_country;
      if (code.starts_with("PCL")) return PlaceKind::country;
      if (code.starts_with("ADM")) return PlaceKind::division2;
      return PlaceKind::region;
    case 'P':
      return PlaceKind::settlement;
    case 'T':
      if (code.starts_with("ISL") || code.starts_with("ATOL")) return PlaceKind::island;
      for (const auto mountain : {"MT", "PK", "HLL", "VLC", "RDGE", "PLAT", "PASS", "UPLD"})
        if (code.starts_with(mountain)) return PlaceKind::mountain;
      return PlaceKind::region;
    case 'H':
      return PlaceKind::water;
    case 'L':
    case 'V':
      return PlaceKind::region;
    default:
      return PlaceKind::other;
  }
}

PlaceKind kind_of_words(std::string_view text) {
  if (text.empty()) return PlaceKind::settlement;
  if (text.size() == 1) return kind_of_geonames(text, {});
  const auto word = lower(text);
  const auto has = [&word](std::string_view part) { return word.find(part) != std::string::npos; };
  if (has("admin-1 minor island") || has("island") || has("atoll")) return PlaceKind::island;
  if (has("country") || has("colony")) return PlaceKind::former_country;
  if (has("admin-1") || has("adm1") || word == "state" || word == "province") return PlaceKind::division1;
  if (has("adm2") || has("county") || word == "district") return PlaceKind::division2;
  if (has("mountain") || has("mtn") || has("peak") || has("hill") || has("plateau") || has("pass") || has("volcano"))
    return PlaceKind::mountain;
  for (const auto water : {"river", "lake", "sea", "bay", "gulf", "ocean", "strait", "sound", "channel", "lagoon", "fjord",
                           "reservoir", "stream", "waterfall", "creek"})
    if (has(water)) return PlaceKind::water;
  for (const auto settled : {"place", "city", "town", "village", "settlement", "ppl", "hamlet"})
    if (has(settled)) return PlaceKind::settlement;
  return PlaceKind::region;
}

// ---- names

bool is_code(std::string_view name) {  // airport and car-plate codes among alternate names
  return name.size() <= 4 &&
         std::all_of(name.begin(), name.end(), [](unsigned char c) { return std::isupper(c) || std::isdigit(c); });
}

void add_other_name(GazetteerEntry& entry, std::string_view name) {
  if (name.empty() || name.size() > 80 || is_code(name) || name.find("://") != std::string_view::npos || !is_latin(name))
    return;
  entry.other_names.emplace_back(name);
}

// ---- smallest circle around points on the globe (Badoiu & Clarkson 2003, "Smaller core-sets for balls")

struct Point {
  double lat_deg, lon_deg;
};
struct Circle {
  Point centre;
  double radius_m;
};

std::array<double, 3> unit_vector(const Point& p) {
  const double lat = p.lat_deg * std::numbers::pi / 180, lon = p.lon_deg * std::numbers::pi / 180;
  return {std::cos(lat) * std::cos(lon), std::cos(lat) * std::sin(lon), std::sin(lat)};
}

Circle circle_around(const std::vector<Point>& points) {
  constexpr double kEarth_m = 6371008.8;
  std::vector<std::array<double, 3>> vectors;
  std::array<double, 3> centre{};
  for (const auto& point : points) {
    vectors.push_back(unit_vector(point));
    for (std::size_t i = 0; i < 3; ++i) centre[i] += vectors.back()[i];
  }
  const auto normalise = [&centre] {
    const double length = std::sqrt(centre[0] * centre[0] + centre[1] * centre[1] + centre[2] * centre[2]);
    if (length > 1e-9)
      for (auto& x : centre) x /= length;
  };
  normalise();
  double least = 1;
  for (int round = 1; round <= 200; ++round) {
    least = 1;
    const std::array<double, 3>* farthest = &vectors.front();
    for (const auto& v : vectors) {
      const double cosine = v[0] * centre[0] + v[1] * centre[1] + v[2] * centre[2];
      if (cosine < least) {
        least = cosine;
        farthest = &v;
      }
    }
    if (round == 200) break;
    for (std::size_t i = 0; i < 3; ++i) centre[i] += ((*farthest)[i] - centre[i]) / (round + 1);
    normalise();
  }
  return {{std::asin(std::clamp(centre[2], -1.0, 1.0)) * 180 / std::numbers::pi,
           std::atan2(centre[1], centre[0]) * 180 / std::numbers::pi},
          std::acos(std::clamp(least, -1.0, 1.0)) * kEarth_m};
}

// ---- readers

// The next rows of a GeoNames table, at most so many.
std::vector<GazetteerEntry> read_geonames(std::istream& in, std::size_t most, std::size_t& left_out) {
  std::vector<GazetteerEntry> entries;
  std::vector<std::string_view> columns, names;
  for (std::string line; entries.size() < most && std::getline(in, line);) {
    if (line.find_first_not_of("\r \t") == std::string::npos) continue;
    split(line, '\t', columns);
    if (columns.size() < 15) {
      ++left_out;
      continue;
    }
    const auto lat = number_in(columns[4]), lon = number_in(columns[5]);
    if (columns[1].empty() || !lat || !lon || !on_earth(*lat, *lon)) {
      ++left_out;
      continue;
    }
    GazetteerEntry entry;
    entry.name = columns[1];
    entry.id = "geonames:" + std::string(columns[0]);
    entry.lat_deg = *lat;
    entry.lon_deg = *lon;
    entry.kind = kind_of_geonames(columns[6], columns[7]);
    entry.division = columns[8];
    if (!columns[10].empty() && columns[10] != "00") {
      entry.division += '.' + std::string(columns[10]);
      if (!columns[11].empty()) entry.division += '.' + std::string(columns[11]);
    }
    if (const auto population = number_in(columns[14]); population && *population > 0)
      entry.population = static_cast<std::uint32_t>(std::min(*population, 4e9));
    if (!columns[2].empty()) entry.main_names.emplace_back(columns[2]);
    split(columns[3], ',', names);
    for (const auto name : names) add_other_name(entry, name);
    entries.push_back(std::move(entry));
  }
  return entries;
}

struct Table {
  std::map<std::string, std::size_t, std::less<>> column;
  std::vector<std::vector<std::string>> rows;

  std::string_view get(const std::vector<std::string>& row, std::initializer_list<std::string_view> names) const {
    for (const auto name : names)
      if (const auto found = column.find(name); found != column.end() && found->second < row.size()) return row[found->second];
    return {};
  }
};

Result<Table> read_table(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return unreadable(path, "cannot be read");
  Table table;
  std::vector<std::string_view> columns;
  for (std::string line; std::getline(in, line);) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    if (line.empty()) continue;
    split(line, '\t', columns);
    if (table.column.empty()) {
      if (columns[0].starts_with("\xEF\xBB\xBF")) columns[0].remove_prefix(3);
      for (std::size_t i = 0; i < columns.size(); ++i) table.column.emplace(lower(columns[i]), i);
    } else {
      table.rows.emplace_back(columns.begin(), columns.end());
    }
  }
  return table;
}

Result<std::vector<std::pair<std::string, std::string>>> read_division_names(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return unreadable(path, "cannot be read");
  const auto json = nlohmann::json::parse(in, nullptr, false);
  if (!json.is_array()) return unreadable(path, "is not a JSON list of divisions");
  std::vector<std::pair<std::string, std::string>> names;
  for (const auto& row : json)
    if (row.is_object() && row.contains("code") && row.contains("name")) names.emplace_back(row["code"], row["name"]);
  return names;
}

// The languages whose names for countries and divisions are added: those of collectors' labels in Latin script.
constexpr std::array<const char*, 24> kLanguages{"en", "de", "fr", "es", "pt", "it", "nl", "sv", "nb", "da", "fi", "pl",
                                                 "cs", "hu", "ro", "ca", "hr", "sl", "sk", "et", "lv", "lt", "tr", "id"};

std::string unescaped(std::string text) {
  for (const auto& [from, to] : {std::pair<std::string_view, std::string_view>{"&apos;", "'"},
                                 {"&quot;", "\""},
                                 {"&lt;", "<"},
                                 {"&gt;", ">"},
                                 {"&amp;", "&"}})
    for (auto at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
      text.replace(at, from.size(), to);
  return text;
}

// CLDR subdivision code ("usca") to its names in kLanguages. The files hold one element a line.
std::map<std::string, std::set<std::string>> read_subdivision_names(const fs::path& folder) {
  std::map<std::string, std::set<std::string>> names;
  for (const auto* language : kLanguages) {
    std::ifstream in(folder / (std::string(language) + ".xml"), std::ios::binary);
    for (std::string line; std::getline(in, line);) {
      constexpr std::string_view kOpen = "<subdivision type=\"";
      const auto open = line.find(kOpen);
      if (open == std::string::npos) continue;
      const auto code_end = line.find('"', open + kOpen.size());
      const auto text = line.find('>', open);
      const auto end = line.find("</subdivision>", open);
      if (code_end == std::string::npos || text == std::string::npos || end == std::string::npos || end < text) continue;
      names[line.substr(open + kOpen.size(), code_end - open - kOpen.size())].insert(
          unescaped(line.substr(text + 1, end - text - 1)));
    }
  }
  return names;
}

Result<nlohmann::json> read_json_list(const fs::path& path, const char* list) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return unreadable(path, "cannot be read (Debian package iso-codes)");
  auto json = nlohmann::json::parse(in, nullptr, false);
  if (!json.is_object() || !json.contains(list)) return unreadable(path, "is not a table of iso-codes");
  return json[list];
}

std::string first_column(const std::string& line) { return line.substr(0, line.find('\t')); }

// Rows of a table with a header, former_names.tsv among them.
GazetteerEntry entry_of_row(const Table& table, const std::vector<std::string>& row, const std::string& id_prefix,
                            std::size_t number) {
  GazetteerEntry entry;
  const auto name = table.get(row, {"name"});
  const auto current = table.get(row, {"current_name"});
  entry.name = current.empty() ? name : current;
  entry.main_names.emplace_back(name);
  const auto id = table.get(row, {"geonameid", "id"});
  entry.id = id.empty()                           ? id_prefix + ":" + std::to_string(number)
             : table.column.contains("geonameid") ? "geonames:" + std::string(id)
                                                  : std::string(id);
  entry.division = table.get(row, {"country_codes", "country_code", "country"});
  entry.kind = kind_of_words(table.get(row, {"kind", "feature_class", "feature"}));
  const auto lat = number_in(table.get(row, {"lat", "latitude", "decimallatitude"}));
  const auto lon = number_in(table.get(row, {"lon", "lng", "longitude", "decimallongitude"}));
  entry.lat_deg = lat.value_or(1000);
  entry.lon_deg = lon.value_or(1000);
  if (const auto radius_km = number_in(table.get(row, {"radius_km"})); radius_km && *radius_km > 0)
    entry.radius_m = *radius_km * 1000;
  if (const auto population = number_in(table.get(row, {"population"})); population && *population > 0)
    entry.population = static_cast<std::uint32_t>(std::min(*population, 4e9));
  std::vector<std::string_view> names;
  const auto alternates = table.get(row, {"alternates", "alternatenames", "alternate_names"});
  split(alternates,
        alternates.find('|') != std::string_view::npos   ? '|'
        : alternates.find(';') != std::string_view::npos ? ';'
                                                         : ',',
        names);
  for (auto other : names) {
    while (other.starts_with(' ')) other.remove_prefix(1);
    add_other_name(entry, other);
  }
  return entry;
}

}  // namespace

// ---- writing

Result<Done> write_gazetteer(const std::vector<GazetteerEntry>& entries, const std::string& attribution, const fs::path& file) {
  if (entries.size() > kPlaceMask)
    return Failure{"interpretation", "too_large", "A gazetteer holds at most 1 billion places.", "Split the table."};
  std::string texts(1, '\0');
  const auto put_text = [&texts](const std::string& text) {
    if (text.empty()) return std::uint32_t{0};
    const auto at = static_cast<std::uint32_t>(texts.size());
    texts += text;
    texts += '\0';
    return at;
  };
  std::unordered_map<std::string, std::uint32_t> division_text;
  std::vector<PlaceRow> places;
  std::vector<std::pair<std::string, std::uint32_t>> postings;
  places.reserve(entries.size());
  for (const auto& entry : entries) {
    const auto number = static_cast<std::uint32_t>(places.size());
    PlaceRow row{};
    row.lat_udeg = static_cast<std::int32_t>(std::lround(entry.lat_deg * 1e6));
    row.lon_udeg = static_cast<std::int32_t>(std::lround(entry.lon_deg * 1e6));
    row.name = put_text(entry.name);
    row.id = put_text(entry.id);
    auto [known, fresh] = division_text.try_emplace(entry.division, 0);
    if (fresh) known->second = put_text(entry.division);
    row.division = known->second;
    row.population = entry.population;
    row.radius_m = static_cast<float>(entry.radius_m > 0 ? entry.radius_m : estimated_radius_m(entry.kind, entry.population));
    row.kind = static_cast<std::uint32_t>(entry.kind);
    places.push_back(row);

    std::set<std::string> seen;
    const bool division =
        entry.kind == PlaceKind::division1 || entry.kind == PlaceKind::division2 || entry.kind == PlaceKind::country;
    const auto put = [&](const std::string& name, std::uint32_t flags) {
      auto key = name_key(name);
      if (key.empty()) return;
      if (division && !(flags & kAbbreviation)) {
        if (auto bare = without_kind_words(key); bare != key && bare.size() > 1 && seen.insert(bare).second)
          postings.emplace_back(std::move(bare), number | (entry.kind == PlaceKind::division2 ? 0 : flags));
      }
      if (division && !(flags & kAbbreviation))  // "LaPaz"
        if (auto joined = key; std::erase(joined, ' ') > 0 && joined.size() >= kShortestLookalike && seen.insert(joined).second)
          postings.emplace_back(std::move(joined), number);
      if (seen.insert(key).second) postings.emplace_back(std::move(key), number | flags);
    };
    put(entry.name, kMainName);
    for (const auto& name : entry.main_names) put(name, kMainName);
    for (const auto& name : entry.other_names) put(name, 0);
    for (const auto& name : entry.abbreviations) put(name, kAbbreviation);
    // "Beirut (Lebanon)", "Kerkyra [Corfu]": also without the bracket
    if (const auto bracket = entry.name.find_first_of("(["); bracket != std::string::npos && bracket > 2)
      put(entry.name.substr(0, bracket), kMainName);
    if (texts.size() > 0xF0000000U)
      return Failure{"interpretation", "too_large", "The names take more than 4 GB.", "Split the table."};
  }
  std::sort(postings.begin(), postings.end());

  std::string keys;
  std::vector<std::uint32_t> key_text, key_postings, posting_rows;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> lookalikes;  // hash, key number
  posting_rows.reserve(postings.size());
  for (std::size_t i = 0; i < postings.size(); ++i) {
    const auto& key = postings[i].first;
    if (i == 0 || key != postings[i - 1].first) {
      const auto number = static_cast<std::uint32_t>(key_text.size());
      key_text.push_back(static_cast<std::uint32_t>(keys.size()));
      key_postings.push_back(static_cast<std::uint32_t>(posting_rows.size()));
      keys += key;
      if (key.size() >= kShortestLookalike && key.size() <= 40) {
        const auto whole = skeleton(key);
        lookalikes.emplace_back(hash_of(whole), number);
        for (std::size_t j = 0; j < whole.size(); ++j) {
          auto shorter = whole;
          shorter.erase(j, 1);
          lookalikes.emplace_back(hash_of(shorter), number);
        }
      }
    }
    posting_rows.push_back(postings[i].second);
  }
  key_text.push_back(static_cast<std::uint32_t>(keys.size()));
  key_postings.push_back(static_cast<std::uint32_t>(posting_rows.size()));

  const auto bucket_count = static_cast<std::uint32_t>(std::max<std::size_t>(1, lookalikes.size() / 2));
  for (auto& [hash, number] : lookalikes) hash %= bucket_count;
  std::sort(lookalikes.begin(), lookalikes.end());
  lookalikes.erase(std::unique(lookalikes.begin(), lookalikes.end()), lookalikes.end());
  std::vector<std::uint32_t> buckets(bucket_count + 1, 0), lookalike_keys;
  lookalike_keys.reserve(lookalikes.size());
  for (const auto& [bucket, number] : lookalikes) {
    ++buckets[bucket + 1];
    lookalike_keys.push_back(number);
  }
  std::partial_sum(buckets.begin(), buckets.end(), buckets.begin());

  Header header{};
  header.magic = kMagic;
  header.attribution = put_text(attribution);
  std::uint64_t at = sizeof(Header);
  const auto bytes_of = [](const auto& rows) {
    return std::string_view(reinterpret_cast<const char*>(rows.data()), rows.size() * sizeof(rows[0]));
  };
  const std::array<std::string_view, kSectionCount> sections{bytes_of(places),
                                                             bytes_of(key_text),
                                                             bytes_of(key_postings),
                                                             bytes_of(posting_rows),
                                                             bytes_of(buckets),
                                                             bytes_of(lookalike_keys),
                                                             keys,
                                                             texts};
  for (std::size_t i = 0; i < kSectionCount; ++i) {
    at = (at + 7) / 8 * 8;
    header.begin[i] = at;
    header.size[i] = sections[i].size();
    at += sections[i].size();
  }
  header.file_size = at;

  std::error_code error;
  if (file.has_parent_path()) fs::create_directories(file.parent_path(), error);
  auto temporary = file;
  temporary += ".part";
  std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
  out.write(reinterpret_cast<const char*>(&header), sizeof header);
  std::uint64_t written = sizeof header;
  for (std::size_t i = 0; i < kSectionCount; ++i) {
    constexpr std::array<char, 8> kPad{};
    out.write(kPad.data(), static_cast<std::streamsize>(header.begin[i] - written));
    out.write(sections[i].data(), static_cast<std::streamsize>(sections[i].size()));
    written = header.begin[i] + header.size[i];
  }
  out.close();
  if (out) fs::rename(temporary, file, error);
  if (!out || error) {
    fs::remove(temporary, error);
    return Failure{"interpretation", "unwritable", file.string() + " cannot be written.",
                   "Check the folder and the space on the disk."};
  }
  return Done{};
}

// ---- the base

Result<Done> build_base_gazetteer(const BaseSources& sources, const fs::path& file) {
  std::size_t left_out = 0;
  std::ifstream cities(sources.cities, std::ios::binary);
  if (!cities) return unreadable(sources.cities, "cannot be read");
  auto entries = read_geonames(cities, kPlaceMask, left_out);
  if (entries.empty()) return unreadable(sources.cities, "holds no places");

  std::map<std::string, std::vector<Point>> members;  // of each country and division
  std::map<std::string, std::uint64_t> inhabitants;
  std::unordered_map<std::string, std::size_t> by_id;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const auto& entry = entries[i];
    by_id.emplace(entry.id, i);
    for (std::size_t end = entry.division.find('.');; end = entry.division.find('.', end + 1)) {
      const auto division = entry.division.substr(0, end);
      members[division].push_back({entry.lat_deg, entry.lon_deg});
      inhabitants[division] += entry.population;
      if (end == std::string::npos) break;
    }
  }
  // A division reaches beyond its settlements: by a share of its size, and by a belt where they are few.
  const auto place_division = [&](GazetteerEntry& entry, double share, double belt_m) {
    const auto found = members.find(entry.division);
    if (found == members.end()) return false;
    const auto circle = circle_around(found->second);
    entry.lat_deg = circle.centre.lat_deg;
    entry.lon_deg = circle.centre.lon_deg;
    entry.radius_m = std::ceil((circle.radius_m * share + belt_m) / 1000) * 1000;
    entry.population = static_cast<std::uint32_t>(std::min<std::uint64_t>(inhabitants[entry.division], 4'000'000'000U));
    return true;
  };

  const std::size_t first_division = entries.size();
  std::map<std::string, std::map<std::string, std::size_t>> division_by_key;  // country, key -> entry
  // One or two settlements do not show how far a division reaches: it is taken to be as large as others of its country.
  constexpr std::size_t kFewMembers = 4;
  constexpr double kMostBorrowed_m = 60'000;
  for (const int level : {1, 2}) {
    std::map<std::string, std::vector<double>> radii;
    std::vector<std::size_t> sparse;
    const auto names = read_division_names(level == 1 ? sources.divisions1 : sources.divisions2);
    if (!names) return names.failure();
    for (const auto& [code, name] : *names) {
      GazetteerEntry entry;
      entry.name = name;
      entry.id = "division:" + code;
      entry.division = code;
      entry.kind = level == 1 ? PlaceKind::division1 : PlaceKind::division2;
      const bool known_place = place_division(entry, level == 1 ? 1.25 : 1.5, level == 1 ? 40'000 : 22'000);
      if (!known_place) continue;
      auto& known = division_by_key[code.substr(0, 2)];
      const auto key = name_key(name);
      known.try_emplace(key, entries.size());
      known.try_emplace(without_kind_words(key), entries.size());
      radii[code.substr(0, 2)].push_back(entry.radius_m);
      if (members[code].size() < kFewMembers) sparse.push_back(entries.size());
      entries.push_back(std::move(entry));
    }
    for (auto& [country, all] : radii) std::sort(all.begin(), all.end());
    for (const auto number : sparse) {
      const auto& all = radii[entries[number].division.substr(0, 2)];
      entries[number].radius_m = std::max(entries[number].radius_m, std::min(all[all.size() / 2], kMostBorrowed_m));
    }
  }
  const auto find_division = [&](std::string_view country, std::string_view name) -> GazetteerEntry* {
    const auto known = division_by_key.find(std::string(country));
    if (known == division_by_key.end()) return nullptr;
    const auto key = name_key(name);
    for (const auto& one : {key, without_kind_words(key)})
      if (const auto found = known->second.find(one); found != known->second.end()) return &entries[found->second];
    return nullptr;
  };

  // Names of divisions in other languages, and their codes.
  const auto iso2 = read_json_list(sources.iso_codes / "iso_3166-2.json", "3166-2");
  if (!iso2) return iso2.failure();
  const auto subdivision_names = read_subdivision_names(sources.subdivisions);
  if (subdivision_names.empty())
    return unreadable(sources.subdivisions, "holds no subdivision names (Debian package unicode-cldr-core)");
  for (const auto& row : *iso2) {
    const std::string code = row.value("code", "");
    if (code.size() < 4) continue;
    const std::string country = code.substr(0, 2), suffix = code.substr(3);
    std::set<std::string> names{row.value("name", "")};
    if (const auto found = subdivision_names.find(lower(country + suffix)); found != subdivision_names.end())
      names.insert(found->second.begin(), found->second.end());
    for (const auto& name : names) {
      auto* division = find_division(country, name);
      if (division == nullptr) continue;
      for (const auto& other : names) add_other_name(*division, other);
      if (std::all_of(suffix.begin(), suffix.end(), [](unsigned char c) { return std::isupper(c); })) {
        division->abbreviations.push_back(suffix);
        division->abbreviations.push_back(code);
      }
      break;
    }
  }
  const auto abbreviations = read_table(sources.abbreviations);
  if (!abbreviations) return abbreviations.failure();
  for (const auto& row : abbreviations->rows)
    if (auto* division = find_division(abbreviations->get(row, {"country_code"}), abbreviations->get(row, {"name"})))
      division->abbreviations.emplace_back(abbreviations->get(row, {"abbreviation"}));

  // Countries, named in many languages.
  const auto iso1 = read_json_list(sources.iso_codes / "iso_3166-1.json", "3166-1");
  if (!iso1) return iso1.failure();
  for (const auto& row : *iso1) {
    const std::string code = row.value("alpha_2", "");
    GazetteerEntry entry;
    entry.name = row.contains("common_name") ? row.value("common_name", "") : row.value("name", "");
    entry.id = "country:" + code;
    entry.division = code;
    entry.kind = PlaceKind::country;
    if (code.empty() || !place_division(entry, 1.05, 30'000)) continue;
    for (const auto* part : {"name", "official_name"})
      if (row.contains(part)) add_other_name(entry, row.value(part, ""));
    const icu::Locale country("", code.c_str());
    for (const auto* language : kLanguages) {
      icu::UnicodeString name;
      std::string utf8;
      country.getDisplayCountry(icu::Locale(language), name).toUTF8String(utf8);
      add_other_name(entry, utf8);
    }
    entry.abbreviations = {code, row.value("alpha_3", "")};
    if (code == "US") entry.other_names.insert(entry.other_names.end(), {"USA", "U.S.A.", "United States of America"});
    if (code == "GB") entry.other_names.insert(entry.other_names.end(), {"UK", "Great Britain", "United Kingdom"});
    entries.push_back(std::move(entry));
  }

  // Former names: of a place in the base an alternate name, otherwise a place of its own.
  const auto former = read_table(sources.former_names);
  if (!former) return former.failure();
  for (std::size_t i = 0; i < former->rows.size(); ++i) {
    auto entry = entry_of_row(*former, former->rows[i], "former", i + 2);
    if (const auto known = by_id.find(entry.id); known != by_id.end()) {
      entries[known->second].other_names.push_back(entry.main_names.front());
      continue;
    }
    if (!on_earth(entry.lat_deg, entry.lon_deg)) continue;
    entry.id = "former:" + entry.name;
    const auto same = by_id.find(entry.id);
    if (same != by_id.end() && entries[same->second].lat_deg == entry.lat_deg &&
        entries[same->second].lon_deg == entry.lon_deg) {
      entries[same->second].main_names.push_back(entry.main_names.front());
      continue;
    }
    by_id.emplace(entry.id, entries.size());
    entries.push_back(std::move(entry));
  }
  // ISO 3166-3 names of former countries join the row of former_names that has one of them.
  const auto iso3 = read_json_list(sources.iso_codes / "iso_3166-3.json", "3166-3");
  if (!iso3) return iso3.failure();
  std::map<std::string, std::size_t> former_by_key;
  for (std::size_t i = first_division; i < entries.size(); ++i)
    if (entries[i].kind == PlaceKind::former_country || entries[i].kind == PlaceKind::region ||
        entries[i].kind == PlaceKind::island)
      for (const auto& name : entries[i].main_names) former_by_key.try_emplace(name_key(name), i);
  for (const auto& row : *iso3) {
    const std::string name = row.value("name", "");
    for (const auto& part : {name, name.substr(0, name.find(','))}) {
      const auto found = former_by_key.find(name_key(part));
      if (found == former_by_key.end()) continue;
      add_other_name(entries[found->second], name);
      entries[found->second].abbreviations.push_back(row.value("alpha_3", ""));
      break;
    }
  }

  return write_gazetteer(entries, "Contains data from GeoNames (geonames.org), CC BY 4.0; rows merged, columns dropped.", file);
}

// ---- additions

namespace {

constexpr const char* kGeoNames = "Contains data from GeoNames (geonames.org), CC BY 4.0; columns dropped.";

fs::path part_of(const fs::path& file, std::size_t part) {
  if (part == 1) return file;
  auto name = file.stem();
  name += "-" + std::to_string(part) + file.extension().string();
  return file.parent_path() / name;
}

Failure nothing_in(const fs::path& path) {
  return {"interpretation", "unreadable", path.string() + " holds no row with a name and a position.",
          "Check the columns name, lat and lon."};
}

}  // namespace

Result<Added> build_added_gazetteer(const fs::path& path, const Gazetteer* base, const fs::path& file) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return Failure{"interpretation", "unreadable", path.string() + " cannot be read.", "Check the name of the file."};
  std::string first_line;
  std::getline(in, first_line);
  in.close();
  const auto tabs = std::count(first_line.begin(), first_line.end(), '\t');
  const auto head = first_column(first_line);
  const bool geonames =
      tabs == 18 && !head.empty() && std::all_of(head.begin(), head.end(), [](unsigned char c) { return std::isdigit(c); });

  Added added;
  if (geonames) {
    // The world's dump is cut into files of this many places, so that making them takes some 1.5 GB of memory.
    constexpr std::size_t kMostInOneFile = 2'000'000;
    std::ifstream dump(path, std::ios::binary);
    std::size_t part = 1;
    for (;; ++part) {
      const auto entries = read_geonames(dump, kMostInOneFile, added.left_out);
      if (entries.empty()) break;
      const auto written = write_gazetteer(entries, kGeoNames, part_of(file, part));
      if (!written) return written.failure();
      added.places += entries.size();
    }
    std::error_code error;  // parts of an earlier, longer dump
    while (fs::remove(part_of(file, part), error)) ++part;
    if (added.places == 0) return nothing_in(path);
    return added;
  }
  std::vector<GazetteerEntry> entries;
  {
    const auto table = read_table(path);
    if (!table) return table.failure();
    const auto has = [&](std::initializer_list<const char*> names) {
      return std::any_of(names.begin(), names.end(), [&](const char* name) { return table->column.contains(name); });
    };
    if (!has({"name"}) || !has({"lat", "latitude", "decimallatitude"}) || !has({"lon", "lng", "longitude", "decimallongitude"}))
      return Failure{
          "interpretation", "unreadable",
          path.string() + " is neither a GeoNames table nor a tab-separated table with the columns name, lat and lon.",
          "Give its first line these column names, separated by tabs."};
    const auto prefix = path.stem().string();
    std::unordered_map<std::string, std::string> division_codes;
    for (std::size_t i = 0; i < table->rows.size(); ++i) {
      const auto& row = table->rows[i];
      auto entry = entry_of_row(*table, row, prefix, i + 2);
      if (entry.main_names.front().empty() || !on_earth(entry.lat_deg, entry.lon_deg)) {
        ++added.left_out;
        continue;
      }
      if (const auto admin1 = table->get(row, {"admin1"}); base != nullptr && !admin1.empty() && !entry.division.empty()) {
        const auto wanted = entry.division + '\t' + std::string(admin1);
        auto [known, fresh] = division_codes.try_emplace(wanted, entry.division);
        if (fresh)
          for (const auto& match : base->named(name_key(admin1)))
            if (const auto place = base->place(match.place);
                place.kind == PlaceKind::division1 && lies_in(place.division, entry.division)) {
              known->second = place.division;
              break;
            }
        entry.division = known->second;
      }
      // A division is known by its code. One that the base has stays as the base has it; one without a code is an
      // area like any other.
      if (entry.kind == PlaceKind::division1 || entry.kind == PlaceKind::division2) {
        const auto known = base == nullptr ? std::vector<NameMatch>{} : base->named(name_key(entry.name));
        if (std::any_of(known.begin(), known.end(), [&](const NameMatch& match) {
              const auto place = base->place(match.place);
              return place.kind == entry.kind && lies_in(place.division, entry.division);
            })) {
          ++added.left_out;
          continue;
        }
        if (entry.radius_m <= 0) entry.radius_m = estimated_radius_m(entry.kind, 0);
        entry.kind = PlaceKind::region;
      }
      entries.push_back(std::move(entry));
    }
  }
  added.places = entries.size();
  if (entries.empty()) return nothing_in(path);
  const auto written = write_gazetteer(entries, "", file);
  if (!written) return written.failure();
  return added;
}

}  // namespace papillote::interpretation
