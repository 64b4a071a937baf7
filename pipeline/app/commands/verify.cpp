// papillote verify: whether photographs and archive files are still what they were.
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
#include "pipeline/store/photographs.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Asked {
  std::string collection;
  std::vector<std::string> archives;
};

struct Totals {
  int sound = 0;
  int wrong = 0;
};

std::optional<Digest> digest_of_file(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return std::nullopt;
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  if (in.bad()) return std::nullopt;
  return digest_of(bytes);
}

void check(const fs::path& file, const std::string& name, const Digest& kept, Totals& totals) {
  std::error_code error;
  const auto now = digest_of_file(file);
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

ExitCode run(const Asked& asked) {
  Totals totals;
  if (!asked.collection.empty()) {
    const ExitCode code = with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
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
  std::cerr << fmt::format("{} files are what they were, {} are not.\n", totals.sound, totals.wrong);
  return totals.wrong > 0 ? kSomeFailed : kAllDone;
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  CLI::Option* collection = command.add_option("--collection", asked->collection, "Check the original photographs of this collection.");
  CLI::Option* archive = command.add_option("--archive", asked->archives, "Check this folder of archive files; may be given again.");
  command.final_callback([collection, archive] {
    if (collection->count() + archive->count() == 0) throw CLI::RequiredError("--collection or --archive");
  });
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command verify{"verify", "Care", "Check photographs and archive files against their digests.",
                            "Names every file that changed, vanished or is not listed; exit code 3 when there is one.\n"
                            "Example: papillote verify --collection tins --archive tins-archive",
                            setup};

}  // namespace papillote::app::commands
