#include "pipeline/store/store.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <system_error>
#include <thread>

#include "pipeline/store/schema.h"
#include "pipeline/store/search_functions.h"
#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

constexpr int kPatienceMs = 10'000;
constexpr int kPageBytes = 8192;

Failure refused(std::string kind, std::string reason, std::string remedy) {
  return {"store", std::move(kind), std::move(reason), std::move(remedy)};
}

Result<int> locked(const std::filesystem::path& collection) {
  const std::filesystem::path path = collection / kLockFile;
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (file < 0)
    return refused("no_access", fmt::format("{}: cannot be written ({}).", path.string(), std::strerror(errno)),
                   "Choose a collection folder on a local disk that you may write to.");
  // A batch that was killed a moment ago may still be letting go.
  constexpr int kTries = 20;
  int tries = 0;
  while (::flock(file, LOCK_EX | LOCK_NB) != 0) {
    if (++tries < kTries) {
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
      continue;
    }
    ::close(file);
    return refused("busy", fmt::format("{}: another batch is working on this collection.", collection.string()),
                   "Wait until it has ended, or stop it, and run the same command again.");
  }
  return file;
}

void migrate(SQLite::Database& database) {
  // Another process may have migrated in between: the version is read again under the write lock.
  database.exec("BEGIN IMMEDIATE");
  try {
    int version = database.execAndGet("PRAGMA user_version").getInt();
    for (const char* migration : migrations().subspan(static_cast<std::size_t>(version))) {
      database.exec(migration);
      ++version;
    }
    database.exec(fmt::format("PRAGMA application_id = {}", kApplicationId));
    database.exec(fmt::format("PRAGMA user_version = {}", version));
    database.exec("COMMIT");
  } catch (...) {
    sqlite3_exec(database.getHandle(), "ROLLBACK", nullptr, nullptr, nullptr);
    throw;
  }
}

Failure damaged(const std::filesystem::path& file, std::string_view what) {
  return refused(
      "damaged", fmt::format("{}: the store is damaged ({}).", file.string(), what),
      fmt::format("Keep a copy of it. Bring back the last backup, or save what can be read with: sqlite3 {0} .recover | "
                  "sqlite3 rescued.sqlite, put rescued.sqlite in its place and run 'process' again.",
                  kStoreFile));
}

}  // namespace

Lock::~Lock() { ::close(file_); }

Failure failure_of(const SQLite::Exception& error, const std::filesystem::path& collection) {
  const std::filesystem::path file = collection / kStoreFile;
  switch (error.getErrorCode()) {
    case SQLITE_FULL:
      return refused("disk_full", fmt::format("{}: the disk is full.", file.string()),
                     "Make room and run the same command again: it goes on where it stopped.");
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return damaged(file, error.what());
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return refused("busy", fmt::format("{}: another program has been writing for too long.", file.string()),
                     "Wait until it has ended and run the same command again.");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_IOERR:
      return refused("no_access", fmt::format("{}: cannot be read or written ({}).", file.string(), error.what()),
                     "Check the rights of the folder and that the disk is there and has room.");
    default:
      return refused("internal", fmt::format("{}: {}.", file.string(), error.what()), "Please report this.");
  }
}

Store::Store(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
Store::Store(Store&&) noexcept = default;
Store& Store::operator=(Store&&) noexcept = default;
Store::~Store() = default;

const std::filesystem::path& Store::collection() const { return inside_->collection; }

Result<Store> Store::open(const std::filesystem::path& collection, Access access) {
  const std::filesystem::path file = collection / kStoreFile;
  std::error_code error;
  if (access == Access::batch) {
    std::filesystem::create_directories(collection, error);
    if (error || !std::filesystem::is_directory(collection, error))
      return refused("no_access", fmt::format("{}: cannot be made a collection folder.", collection.string()),
                     "Choose a folder on a local disk that you may write to.");
  } else if (!std::filesystem::exists(file, error)) {
    return refused("no_collection", fmt::format("{}: there is no collection here.", collection.string()),
                   "Give the folder that 'process' was told with --collection.");
  }
  std::optional<int> lock;
  if (access == Access::batch) {
    const Result<int> got = locked(collection);
    if (!got.ok()) return got.failure();
    lock = *got;
  }
  try {
    int flags = SQLite::OPEN_NOMUTEX | (access == Access::read ? SQLite::OPEN_READONLY : SQLite::OPEN_READWRITE);
    if (access == Access::batch) flags |= SQLite::OPEN_CREATE;
    auto inside = std::make_unique<Inside>(collection, std::nullopt, SQLite::Database(file.string(), flags, kPatienceMs),
                                           decltype(Inside::prepared){});
    if (lock) inside->lock.emplace(*std::exchange(lock, std::nullopt));
    SQLite::Database& database = inside->database;
    const int version = database.execAndGet("PRAGMA user_version").getInt();
    const int owner = database.execAndGet("PRAGMA application_id").getInt();
    const bool empty = database.execAndGet("SELECT count(*) FROM sqlite_schema").getInt() == 0;
    if (!empty && owner != kApplicationId)
      return refused("damaged", fmt::format("{}: this is not papillote's store.", file.string()),
                     "Move the file away, or choose another collection folder.");
    if (version > kStoreVersion)
      return refused("newer_store",
                     fmt::format("{}: written by a newer papillote (store version {}, this program knows {}).", file.string(),
                                 version, kStoreVersion),
                     "Use the newer program for this collection.");
    if (access == Access::read && version < kStoreVersion)
      return refused("older_store",
                     fmt::format("{}: written by an older papillote (store version {}).", file.string(), version),
                     "Run 'papillote process' on this collection once: it brings the store up to date.");
    if (access != Access::read) {
      if (empty) database.exec(fmt::format("PRAGMA page_size = {}", kPageBytes));
      database.exec("PRAGMA journal_mode = WAL");
      database.exec("PRAGMA synchronous = NORMAL");
      if (access == Access::batch && !empty) {
        const std::string verdict = database.execAndGet("PRAGMA quick_check(1)").getString();
        if (verdict != "ok") return damaged(file, verdict);
      }
      if (version < kStoreVersion) migrate(database);
      database.exec("PRAGMA foreign_keys = ON");
    }
    database.exec("PRAGMA cache_size = -65536");  // 64 MiB
    add_search_functions(database);
    return Store(std::move(inside));
  } catch (const SQLite::Exception& trouble) {
    if (lock) ::close(*lock);
    return failure_of(trouble, collection);
  }
}

SQLite::Statement& Query::prepare(Store& store, const char* sql) {
  Store::Inside& inside = store.inside();
  if (const auto known = inside.prepared.find(sql); known != inside.prepared.end()) return known->second;
  try {
    return inside.prepared.emplace(sql, SQLite::Statement(inside.database, sql)).first->second;
  } catch (const SQLite::Exception& error) {
    throw Trouble(failure_of(error, store.collection()));
  }
}

bool Query::next() {
  try {
    return statement_.executeStep();
  } catch (const SQLite::Exception& error) {
    throw Trouble(failure_of(error, store_.collection()));
  }
}

Transaction::Transaction(Store& store, Durability durability) : store_(store) {
  Query(store, durability == Durability::full ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL").run();
  Query(store, "BEGIN IMMEDIATE").run();
}

Transaction::~Transaction() {
  // Nothing to do about a rollback that fails: SQLite rolls back when the file is opened next.
  if (open_) sqlite3_exec(store_.inside().database.getHandle(), "ROLLBACK", nullptr, nullptr, nullptr);
}

void Transaction::commit() {
  Query(store_, "COMMIT").run();
  open_ = false;
}

std::vector<std::string> faults(Store& store) {
  std::vector<std::string> found;
  Query pages(store, "PRAGMA integrity_check");
  while (pages.next())
    if (std::string words = pages.text(0); words != "ok") found.push_back(std::move(words));
  Query references(store, "PRAGMA foreign_key_check");
  while (references.next())
    found.push_back(fmt::format("table {} row {} refers to a row of {} that is not there", references.text(0),
                                references.text(1), references.text(2)));
  return found;
}

}  // namespace papillote::store
