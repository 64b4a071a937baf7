#include "pipeline/store/search_functions.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <sqlite3.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <string_view>

namespace papillote::store {
namespace {

std::string_view text_of(sqlite3_value* value) {
  const auto* text = reinterpret_cast<const char*>(sqlite3_value_text(value));
  return text == nullptr ? std::string_view() : std::string_view(text, static_cast<std::size_t>(sqlite3_value_bytes(value)));
}

bool occurs(std::string_view haystack, std::string_view word) {
  std::string wanted = " ";
  if (word.ends_with('*'))
    wanted.append(word.substr(0, word.size() - 1));
  else
    wanted.append(word).append(" ");
  return haystack.find(wanted) != std::string_view::npos;
}

// Calls `take` on each part; ends early when it answers true.
template <class Take>
bool any_part(std::string_view text, char separator, Take take) {
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(separator), text.size());
    if (take(text.substr(0, end))) return true;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return false;
}

void has_words(sqlite3_context* context, int, sqlite3_value** values) {
  const std::string_view haystack = text_of(values[0]);
  const bool lacking = any_part(text_of(values[1]), '|', [&](std::string_view group) {
    return !any_part(group, ' ', [&](std::string_view word) { return occurs(haystack, word); });
  });
  sqlite3_result_int(context, lacking ? 0 : 1);
}

void distance(sqlite3_context* context, int, sqlite3_value** values) {
  if (sqlite3_value_type(values[0]) == SQLITE_NULL || sqlite3_value_type(values[1]) == SQLITE_NULL) return;
  const auto at = [&](int i) { return sqlite3_value_double(values[i]); };
  sqlite3_result_double(context, km_between(at(0), at(1), at(2), at(3)));
}

}  // namespace

double km_between(double lat0, double lon0, double lat1, double lon1) {
  constexpr double kEarthKm = 6371.0088;  // mean radius of GRS 80 (IUGG)
  constexpr double kRad = std::numbers::pi / 180;
  const double half_lat = (lat1 - lat0) * kRad / 2;
  const double half_lon = (lon1 - lon0) * kRad / 2;
  const double h =
      std::pow(std::sin(half_lat), 2) + std::cos(lat0 * kRad) * std::cos(lat1 * kRad) * std::pow(std::sin(half_lon), 2);
  return 2 * kEarthKm * std::asin(std::min(1.0, std::sqrt(h)));
}

void add_search_functions(SQLite::Database& database) {
  database.createFunction("has_words", 2, true, nullptr, has_words);
  database.createFunction("km_between", 4, true, nullptr, distance);
}

}  // namespace papillote::store
