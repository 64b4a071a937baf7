#include "pipeline/store/store.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

#include <fmt/format.h>
#include <sqlite3.h>

#include "pipeline/store/inside.h"
#include "pipeline/store/schema.h"

namespace papillote::store {
namespace {

namespace fs = std::filesystem;

constexpr const char* kFileName = "papillote.sqlite";
constexpr const char* kLockName = "batch.lock";
constexpr int kBusyWait_ms = 10'000;

Failure trouble_with(const std::string& kind, const std::string& reason, const std::string& remedy) { return {"store", kind, reason, remedy}; }

void settle_pragmas(SQLite::Database& database, Access access) {
  database.setBusyTimeout(kBusyWait_ms);
  database.exec("PRAGMA foreign_keys = ON");
  if (access == Access::read) {
    database.exec("PRAGMA query_only = ON");
  } else {
    database.exec("PRAGMA journal_mode = WAL");
    database.exec("PRAGMA synchronous = NORMAL");
  }
  database.exec("PRAGMA cache_size = -32000");
  database.exec("PRAGMA temp_store = MEMORY");
}

}  // namespace

Result<LockFile> LockFile::take(const fs::path& file) {
  const int descriptor = ::open(file.c_str(), O_CREAT | O_RDWR | O_CLOEXEC, 0644);
  if (descriptor < 0)
    return trouble_with("no_access", fmt::format("{} cannot be written: {}.", file.string(), std::strerror(errno)), "Choose a folder you may write to.");
  if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
    ::close(descriptor);
    return trouble_with("busy", fmt::format("Another batch is working on {}.", file.parent_path().string()), "Wait until it has ended.");
  }
  return LockFile(descriptor);
}
LockFile::LockFile(LockFile&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}
LockFile& LockFile::operator=(LockFile&& other) noexcept {
  std::swap(descriptor_, other.descriptor_);
  return *this;
}
LockFile::~LockFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Failure failure_of(const SQLite::Exception& error, const fs::path& collection) {
  const std::string where = collection.string();
  switch (error.getErrorCode() & 0xff) {
    case SQLITE_FULL:
      return trouble_with("disk_full", fmt::format("The disk of {} is full.", where), "Make room and run the same command again; nothing is lost.");
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return trouble_with("damaged", fmt::format("The store in {} is damaged ({}).", where, error.what()),
                          "Put back the last copy of papillote.sqlite, or move the file away and process the photographs again.");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return trouble_with("busy", fmt::format("The store in {} is in use.", where), "Wait until the other command has ended.");
    case SQLITE_IOERR:
      return trouble_with("disk_full", fmt::format("The disk of {} did not take what was written ({}).", where, error.what()),
                          "See whether it is full or failing, and run the same command again.");
    default:
      return trouble_with("no_access", fmt::format("The store in {} cannot be used ({}).", where, error.what()),
                          "See that the folder is on a local disk and that you may write to it.");
  }
}

Store::Store(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
Store::Store(Store&&) noexcept = default;
Store& Store::operator=(Store&&) noexcept = default;
Store::~Store() = default;

const fs::path& Store::collection() const { return inside_->collection; }

Result<Store> Store::open(const fs::path& collection, Access access) {
  std::error_code error;
  auto inside = std::make_unique<Inside>();
  inside->collection = collection;
  const fs::path file = collection / kFileName;
  const bool there = fs::exists(file, error);
  if (!there && access != Access::batch)
    return trouble_with("no_collection", fmt::format("{} is no collection: it has no {}.", collection.string(), kFileName),
                        "Name the folder that 'papillote process' was given with --collection.");
  if (access == Access::batch) {
    fs::create_directories(collection, error);
    if (error)
      return trouble_with("no_access", fmt::format("The folder {} cannot be made: {}.", collection.string(), error.message()), "Choose another folder.");
    auto lock = LockFile::take(collection / kLockName);
    if (!lock.ok()) return lock.failure();
    inside->lock.emplace(std::move(lock).value());
  }
  try {
    // Reading too opens for writing where it may: a reader of a write-ahead log must be able to note where it reads.
    const bool writable = ::access(file.c_str(), W_OK) == 0 || !there;
    const int flags = access == Access::batch ? SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE : writable ? SQLite::OPEN_READWRITE : SQLite::OPEN_READONLY;
    inside->database = std::make_unique<SQLite::Database>(file.string(), flags);
    SQLite::Database& database = *inside->database;
    settle_pragmas(database, access);
    const int version = database.execAndGet("PRAGMA user_version").getInt();
    if (version > kStoreVersion)
      return trouble_with("newer_store", fmt::format("The store in {} was written by a newer papillote (layout {}, this one knows {}).", collection.string(), version, kStoreVersion),
                          "Use the newer program.");
    if (version == 0) {
      if (access != Access::batch)
        return trouble_with("older_store", fmt::format("The store in {} has no layout yet.", collection.string()), "Run 'papillote process' first.");
      SQLite::Transaction transaction(database);
      database.exec(kSchema);
      database.exec(fmt::format("PRAGMA user_version = {}", kStoreVersion));
      transaction.commit();
    }
    Store store(std::move(inside));
    if (access == Access::batch)
      if (const auto found = faults(store); !found.empty())
        return trouble_with("damaged", fmt::format("The store in {} is damaged ({}).", collection.string(), found.front()),
                            "Put back the last copy of papillote.sqlite, or move the file away and process the photographs again.");
    return store;
  } catch (const SQLite::Exception& problem) {
    return failure_of(problem, collection);
  } catch (const Trouble& trouble) {
    return trouble.failure;
  }
}

Transaction::Transaction(Store& store, Durability durability) : store_(store) {
  with_database(store, [&](SQLite::Database& database) {
    database.exec(durability == Durability::full ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL");
    database.exec("BEGIN IMMEDIATE");
  });
}

Transaction::~Transaction() {
  if (!open_) return;
  try {
    store_.inside().database->exec("ROLLBACK");
  } catch (const std::exception&) {
    // SQLite has rolled back by itself.
  }
}

void Transaction::commit() {
  with_database(store_, [](SQLite::Database& database) { database.exec("COMMIT"); });
  open_ = false;
}

std::vector<std::string> faults(Store& store) {
  return with_database(store, [](SQLite::Database& database) {
    std::vector<std::string> found;
    SQLite::Statement check(database, "PRAGMA quick_check(20)");
    while (check.executeStep())
      if (const std::string line = check.getColumn(0).getString(); line != "ok") found.push_back(line);
    return found;
  });
}

}  // namespace papillote::store
