// What a Store holds, private to the room: the database, the lock, the folding of words.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include <SQLiteCpp/SQLiteCpp.h>

#include "pipeline/store/fold.h"
#include "pipeline/store/store.h"

namespace papillote::store {

class LockFile {
 public:
  // Failure "busy" when another process holds it.
  [[nodiscard]] static Result<LockFile> take(const std::filesystem::path& file);
  LockFile(LockFile&& other) noexcept;
  LockFile& operator=(LockFile&& other) noexcept;
  ~LockFile();

 private:
  explicit LockFile(int descriptor) : descriptor_(descriptor) {}
  int descriptor_ = -1;
};

struct Store::Inside {
  std::filesystem::path collection;
  std::optional<LockFile> lock;
  std::unique_ptr<SQLite::Database> database;
  Folder folder;
};

[[nodiscard]] Failure failure_of(const SQLite::Exception& error, const std::filesystem::path& collection);

// Runs `work` with the database; its trouble becomes Trouble.
template <class Work>
auto with_database(Store& store, const Work& work) {
  try {
    return work(*store.inside().database);
  } catch (const SQLite::Exception& error) {
    throw Trouble(failure_of(error, store.collection()));
  }
}

[[nodiscard]] inline std::optional<std::string> text_or_nothing(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return column.getString();
}

}  // namespace papillote::store
