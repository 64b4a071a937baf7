// Private to this room: the connection behind a Store, and statements that are prepared once.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>

#include "pipeline/store/store.h"

namespace papillote::store {

// Holds the lock file of a collection for as long as it lives.
class Lock {
 public:
  explicit Lock(int file) : file_(file) {}
  Lock(const Lock&) = delete;
  Lock& operator=(const Lock&) = delete;
  ~Lock();

 private:
  int file_;
};

struct Store::Inside {
  std::filesystem::path collection;
  std::optional<Lock> lock;  // outlives the connection
  SQLite::Database database;
  std::unordered_map<std::string_view, SQLite::Statement> prepared;  // keyed by literals
};

// What SQLite says, as a Failure with a remedy.
[[nodiscard]] Failure failure_of(const SQLite::Exception& error, const std::filesystem::path& collection);

struct Null {};
inline constexpr Null kNull;

// One use of a prepared statement; ready for the next use when it goes. `sql` must be a literal. SQLite's exceptions
// become Trouble.
class Query {
 public:
  template <class... Values>
  Query(Store& store, const char* sql, const Values&... values) : store_(store), statement_(prepare(store, sql)) {
    int at = 0;
    (bind(++at, values), ...);
  }
  ~Query() { statement_.tryReset(); }
  Query(const Query&) = delete;
  Query& operator=(const Query&) = delete;

  [[nodiscard]] bool next();
  void run() { (void)next(); }

  [[nodiscard]] bool is_null(int column) const { return statement_.getColumn(column).isNull(); }
  [[nodiscard]] std::int64_t integer(int column) const { return statement_.getColumn(column).getInt64(); }
  [[nodiscard]] int small(int column) const { return statement_.getColumn(column).getInt(); }
  [[nodiscard]] double real(int column) const { return statement_.getColumn(column).getDouble(); }
  [[nodiscard]] std::string text(int column) const { return statement_.getColumn(column).getString(); }
  [[nodiscard]] std::optional<double> maybe_real(int column) const {
    return is_null(column) ? std::nullopt : std::optional(real(column));
  }

 private:
  static SQLite::Statement& prepare(Store&, const char* sql);

  void bind(int at, Null) { statement_.bind(at); }
  void bind(int at, const std::string& value) { statement_.bind(at, value); }
  void bind(int at, std::string_view value) { statement_.bind(at, std::string(value)); }
  void bind(int at, const char* value) { statement_.bind(at, value); }
  void bind(int at, double value) { statement_.bind(at, value); }
  void bind(int at, std::int64_t value) { statement_.bind(at, value); }
  void bind(int at, int value) { statement_.bind(at, value); }
  void bind(int at, bool value) { statement_.bind(at, value ? 1 : 0); }
  template <class T>
  void bind(int at, const std::optional<T>& value) {
    if (value)
      bind(at, *value);
    else
      statement_.bind(at);
  }

  Store& store_;
  SQLite::Statement& statement_;
};

[[nodiscard]] inline std::int64_t last_row(Store& store) { return store.inside().database.getLastInsertRowid(); }

}  // namespace papillote::store
