// papillote backup: the collection's folder as it stands at one moment, copied while others work with it.
#include "pipeline/store/backup.h"

#include <fmt/format.h>

#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/save.h"
#include "pipeline/exports/archive_view.h"
#include "pipeline/exports/bag.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct BackupAsked {
  std::string collection;
  std::string output;
};

constexpr const char* kBegun = ".papillote-backup";  // ends the name of the hidden folder in which a backup is made

// The store's companions are of one moment with it or worthless, and the lock is nobody's but the batch's.
bool is_of_the_store(const std::string& name) { return name.starts_with(store::kStoreFile) || name == store::kLockFile; }

Result<Done> copy_file(const fs::path& from, const fs::path& to, exports::DigestList& digests, const std::string& name) {
  std::ifstream in(from, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  if (!in && !in.eof()) return Failure{"app", "unreadable", from.string() + " cannot be read.", "See that you may read it."};
  std::error_code error;
  fs::create_directories(to.parent_path(), error);
  if (auto saved = bench::save(to, bytes); !saved.ok()) return saved;
  digests[name] = digest_of(bytes);
  return Done{};
}

Result<Done> copy_collection(store::Store& store, const fs::path& collection, const fs::path& folder, const fs::path& not_this) {
  std::error_code error;
  exports::DigestList digests;
  if (auto kept = store::copy_store(store, folder / store::kStoreFile); !kept.ok()) return kept;
  digests[store::kStoreFile] = exports::digest_of_file(folder / store::kStoreFile).value_or(Digest{});
  for (auto entry = fs::recursive_directory_iterator(collection, error); entry != fs::recursive_directory_iterator();
       entry.increment(error)) {
    if (error)
      return Failure{"app", "unreadable", fmt::format("{} cannot be read: {}.", collection.string(), error.message()),
                     "See that you may read it."};
    // A backup within the collection holds no backup.
    if (entry->path().filename().string().ends_with(kBegun) || fs::weakly_canonical(entry->path(), error) == not_this) {
      entry.disable_recursion_pending();
      continue;
    }
    const std::string name = entry->path().lexically_relative(collection).generic_string();
    if (!entry->is_regular_file(error) || is_of_the_store(name)) continue;
    if (auto copied = copy_file(entry->path(), folder / name, digests, name); !copied.ok()) return copied;
  }
  return bench::save(folder / exports::kDigestFile, exports::digest_lines(digests));
}

// There whole or not at all: it is made in a folder beside its place. What a run that was killed left there is begun anew.
Result<Done> back_up(store::Store& store, const fs::path& collection, const fs::path& folder) {
  const auto unwritable = [](const fs::path& path, const std::error_code& why) {
    return Failure{"app", "unwritable", fmt::format("{} cannot be made a folder: {}.", path.string(), why.message()),
                   "Name a folder that you may write to."};
  };
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) return unwritable(folder, error);
  const fs::path whole = fs::canonical(folder, error);
  if (error) return unwritable(folder, error);
  if (!fs::is_empty(whole, error))
    return Failure{"app", "not_empty", folder.string() + " is not empty.", "Name a new folder, so that nothing old is lost."};
  const fs::path begun = whole.parent_path() / fmt::format(".{}{}", whole.filename().string(), kBegun);
  fs::remove_all(begun, error);
  if (!fs::create_directory(begun, error)) return unwritable(begun, error);
  if (auto copied = copy_collection(store, collection, begun, whole); !copied.ok()) return copied;
  fs::rename(begun, whole, error);
  if (error) return unwritable(folder, error);
  return Done{};
}

ExitCode run(const BackupAsked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) -> ExitCode {
    if (const auto copied = back_up(store, asked.collection, asked.output); !copied.ok()) return said(copied.failure());
    std::cout << asked.output << '\n';
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<BackupAsked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("-o,--output", asked->output, "Folder of the copy; made when it is not there.")->required();
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command backup;
const Command backup{"backup", "Care", "Copy the collection's folder as it stands at one moment, while others work with it.",
                     "The copy is a collection of its own. Photographs are not in it: 'papillote bag' packs them.\n"
                     "'papillote verify --archive' checks it against its digests.\n"
                     "Example: papillote backup --collection tins -o tins-2026-11-25",
                     setup};

}  // namespace papillote::app::commands
