// papillote verify: whether the store, photographs, archive files and bags are still what they were.
#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <optional>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/exports/archive_view.h"
#include "pipeline/exports/bag.h"
#include "pipeline/store/photographs.h"
#include "pipeline/store/results.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Asked {
  std::string collection;
  std::vector<std::string> archives;
  std::vector<std::string> bags;
};

struct Totals {
  int sound = 0;
  int wrong = 0;
};

void check(const fs::path& file, const std::string& name, const Digest& kept, Totals& totals) {
  std::error_code error;
  const auto now = exports::digest_of_file(file);
  if (now == kept) {
    ++totals.sound;
    return;
  }
  ++totals.wrong;
  std::cout << (now ? "changed   " : fs::exists(file, error) ? "unreadable " : "vanished  ") << name << '\n';
}

// Failures: the list of digests is not there or damaged.
std::optional<Failure> check_archive(const fs::path& folder, Totals& totals) {
  const fs::path list = folder / exports::kDigestFile;
  std::ifstream in(list, std::ios::binary);
  if (!in) return Failure{"app", "no_archive", fmt::format("{} is not there.", list.string()), "Name the folder that 'papillote archive' wrote."};
  const auto digests = exports::read_digest_lines(std::string{std::istreambuf_iterator<char>(in), {}}, list.string());
  if (!digests.ok()) return digests.failure();
  for (const auto& [file, digest] : *digests) check(folder / file, (folder / file).string(), digest, totals);
  std::error_code error;
  for (const auto& entry : fs::recursive_directory_iterator(folder, error)) {
    const std::string name = entry.path().lexically_relative(folder).generic_string();
    if (!entry.is_regular_file(error) || name == exports::kDigestFile || digests->contains(name)) continue;
    ++totals.wrong;
    std::cout << "not listed " << entry.path().string() << '\n';
  }
  return std::nullopt;
}

// The file's pages, its references, and the answers that it holds against the digests they are known by.
void check_store(store::Store& store, Totals& totals) {
  std::vector<std::string> faults = store::faults(store);
  if (faults.empty()) {
    std::vector<std::string> changed = store::changed_answers(store);
    faults.insert(faults.end(), changed.begin(), changed.end());
  }
  for (const std::string& fault : faults) std::cout << "store     " << fault << '\n';
  (faults.empty() ? totals.sound : totals.wrong) += 1;
}

ExitCode run(const Asked& asked) {
  Totals totals;
  if (!asked.collection.empty()) {
    const ExitCode code = with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
      check_store(store, totals);
      store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
        const Photo& photo = photograph.index.photo;
        if (!photo.sha256.hex.empty()) check(store::file_of(store, photo.path).value_or(fs::path(photo.path)), photo.path, photo.sha256, totals);
      });
      return kAllDone;
    });
    if (code != kAllDone) return code;
  }
  for (const std::string& folder : asked.archives)
    if (const auto trouble = check_archive(folder, totals)) return said(*trouble);
  for (const std::string& folder : asked.bags) {
    const auto faults = exports::faults_of_bag(folder);
    if (!faults.ok()) return said(faults.failure());
    for (const std::string& fault : *faults) std::cout << "bag       " << fault << '\n';
    (faults->empty() ? totals.sound : totals.wrong) += 1;
  }
  std::cerr << fmt::format("{} files are what they were, {} are not.\n", totals.sound, totals.wrong);
  return totals.wrong > 0 ? kSomeFailed : kAllDone;
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  CLI::Option* collection = command.add_option("--collection", asked->collection, "Check the store and the original photographs of this collection.");
  CLI::Option* archive = command.add_option("--archive", asked->archives, "Check this folder of archive files, or this backup; may be given again.");
  CLI::Option* bag = command.add_option("--bag", asked->bags, "Check this bag; may be given again.");
  command.final_callback([collection, archive, bag] {
    if (collection->count() + archive->count() + bag->count() == 0) throw CLI::RequiredError("--collection, --archive or --bag");
  });
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command verify{"verify", "Care", "Check the store, photographs, archive files and bags against their digests.",
                            "Names every fault of the store and every file that changed, vanished or is not listed; exit code 3 when there is one.\n"
                            "Example: papillote verify --collection tins --archive tins-archive",
                            setup};

}  // namespace papillote::app::commands
