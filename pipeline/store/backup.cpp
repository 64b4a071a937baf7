#include "pipeline/store/backup.h"

#include <SQLiteCpp/Backup.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <system_error>

#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

void flush(const std::filesystem::path& path, int flags) {
  const int file = ::open(path.c_str(), flags | O_CLOEXEC);
  if (file < 0) return;
  ::fsync(file);
  ::close(file);
}

}  // namespace

Result<Done> copy_store(Store& store, const std::filesystem::path& file) {
  const std::filesystem::path beside = file.string() + ".part";
  std::error_code error;
  std::filesystem::remove(beside, error);
  try {
    SQLite::Database copy(beside.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    SQLite::Backup(copy, store.inside().database).executeStep(-1);
    copy.exec("PRAGMA journal_mode = DELETE");  // a file of its own, without a write-ahead log
    if (const std::string state = copy.execAndGet("PRAGMA integrity_check").getString(); state != "ok")
      return Failure{"store", "damaged", fmt::format("{}: the copy of the store is not sound ({}).", file.string(), state),
                     "Run 'papillote verify' on the collection and keep the last good copy."};
  } catch (const SQLite::Exception& problem) {
    std::filesystem::remove(beside, error);
    return Failure{"store", "unwritable", fmt::format("{} cannot be written: {}.", file.string(), problem.what()),
                   "Name a file in a folder that exists, that you may write to and that has room."};
  }
  flush(beside, O_RDONLY);
  std::filesystem::rename(beside, file, error);
  if (error)
    return Failure{"store", "unwritable", fmt::format("{} cannot be written: {}.", file.string(), error.message()),
                   "Name a file in a folder that you may write to."};
  flush(file.has_parent_path() ? file.parent_path() : std::filesystem::path("."), O_RDONLY | O_DIRECTORY);
  return Done{};
}

}  // namespace papillote::store
