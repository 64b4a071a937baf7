// The store: one SQLite file in the collection's folder that holds answers, envelopes, decisions and the search index.
//
// Expected trouble on opening is a Failure with a remedy. Once open, functions of this room throw `Trouble` when the
// place gives way (disk full, file damaged, another writer for too long): a batch then stops and records nothing
// against the photographs. A Store belongs to one thread; open one per thread.
#pragma once

#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::store {

inline constexpr int kStoreVersion = 4;

// In the collection's folder; SQLite's companions begin with the name of the store's file.
inline constexpr const char* kStoreFile = "papillote.sqlite";
inline constexpr const char* kLockFile = "papillote.lock";

enum class Access {
  read,   // search, export, listings; never writes
  desk,   // short writes by a person: decisions, movements; may run beside a batch
  batch,  // results and index; one per collection, kept so by a lock file
};

// Carries a Failure out of the middle of work with the store.
class Trouble : public std::runtime_error {
 public:
  explicit Trouble(Failure what) : std::runtime_error(what.reason), failure(std::move(what)) {}
  Failure failure;
};

class Store {
 public:
  // `collection` is a folder; with `batch` it and the store are made when they do not exist. An older store is brought up
  // to date by `desk` and `batch`. `batch` also checks the whole file. Failures: "no_collection", "busy", "newer_store",
  // "older_store", "damaged", "no_access", "disk_full".
  [[nodiscard]] static Result<Store> open(const std::filesystem::path& collection, Access access);
  Store(Store&&) noexcept;
  Store& operator=(Store&&) noexcept;
  ~Store();

  [[nodiscard]] const std::filesystem::path& collection() const;

  // For the files of this room.
  struct Inside;
  [[nodiscard]] Inside& inside() { return *inside_; }

 private:
  explicit Store(std::unique_ptr<Inside>);
  std::unique_ptr<Inside> inside_;
};

enum class Durability {
  normal,  // power loss may take the last commits; they are computed again
  full,    // on the disk before commit returns: what a person decided
};

// Everything written while it lives is kept by `commit`, or not at all.
class Transaction {
 public:
  explicit Transaction(Store& store, Durability durability = Durability::normal);
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit();

 private:
  Store& store_;
  bool open_ = true;
};

// Every page and every index of the file; one sentence per fault, none = sound.
[[nodiscard]] std::vector<std::string> faults(Store& store);

}  // namespace papillote::store
