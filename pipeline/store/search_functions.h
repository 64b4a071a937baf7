// Private to this room: functions that SQL statements of the search call.
#pragma once

namespace SQLite {
class Database;
}

namespace papillote::store {

// has_words(haystack, needles): needles are groups joined by '|', alternatives in a group by blanks, '*' ends a
// beginning; every group must occur. km_between(lat, lon, lat, lon): great circle, mean radius.
void add_search_functions(SQLite::Database& database);

// The same great circle for what is no SQL. Degrees.
[[nodiscard]] double km_between(double lat0, double lon0, double lat1, double lon1);

}  // namespace papillote::store
