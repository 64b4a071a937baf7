// papillote bag: originals and index in one folder for keeping longer than any program lives.
#include "pipeline/exports/bag.h"

#include <fmt/format.h>

#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <sstream>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/dataset.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/save.h"
#include "pipeline/run/stop.h"
#include "pipeline/store/backup.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct BagAsked {
  std::string collection;
  std::string output;
  std::string about;
};

struct Copied {
  int written = 0;
  int unchanged = 0;
  int failed = 0;
};

// Two folders may hold a photograph of one name: the second lies below the beginning of its digest.
std::string place_in_bag(const Photo& photo, const exports::BagManifest& taken) {
  const std::string plain = "data/photographs/" + photo.path;
  const auto known = taken.find(plain);
  return known == taken.end() || known->second == photo.sha256
             ? plain
             : fmt::format("data/photographs/{}/{}", photo.sha256.hex.substr(0, 8), photo.path);
}

Result<Done> copy_original(store::Store& store, const Photo& photo, const fs::path& bag, exports::BagManifest& payload,
                           Copied& copied) {
  const std::string place = place_in_bag(photo, payload);
  if (exports::digest_of_file(bag / place) == photo.sha256) {
    payload[place] = photo.sha256;
    ++copied.unchanged;
    return Done{};
  }
  const auto bytes = processed_bytes(store, photo);
  if (!bytes.ok()) {
    ++copied.failed;
    std::cerr << fmt::format("papillote: {} {}\n", bytes.failure().reason, bytes.failure().remedy);
    return Done{};
  }
  std::error_code error;
  fs::create_directories((bag / place).parent_path(), error);
  if (auto saved = bench::save(bag / place, *bytes); !saved.ok()) return saved;
  payload[place] = photo.sha256;
  ++copied.written;
  return Done{};
}

Result<Done> keep_index(store::Store& store, const exports::Dataset& dataset, const fs::path& bag,
                        exports::BagManifest& payload) {
  std::error_code error;
  fs::create_directories(bag / "data/index", error);
  for (const exports::Exporter* exporter : exports::formats::all()) {
    const bool zipped = exporter->name == "dwca" || exporter->name == "datapackage";
    if (!zipped && exporter->name != "json" && exporter->name != "csv") continue;
    std::ostringstream out;
    if (auto written = exporter->write(exports::rows_of(store), dataset, out); !written.ok()) return written;
    const std::string place =
        fmt::format("data/index/{}", zipped ? fmt::format("{}.zip", exporter->name) : fmt::format("index.{}", exporter->name));
    if (auto saved = bench::save(bag / place, out.str()); !saved.ok()) return saved;
    payload[place] = digest_of(out.str());
  }
  const std::string copy = fmt::format("data/index/{}", store::kStoreFile);
  if (auto kept = store::copy_store(store, bag / copy); !kept.ok()) return kept;
  payload[copy] = exports::digest_of_file(bag / copy).value_or(Digest{});
  return Done{};
}

// What an earlier run packed and the collection no longer names is evidence all the same.
Result<std::uintmax_t> take_in_the_rest(const fs::path& bag, exports::BagManifest& payload) {
  bench::sweep(bag);
  std::uintmax_t octets = 0;
  std::error_code error;
  for (const auto& entry : fs::recursive_directory_iterator(bag / "data", error)) {
    if (!entry.is_regular_file(error)) continue;
    octets += entry.file_size(error);
    const std::string place = entry.path().lexically_relative(bag).generic_string();
    if (payload.contains(place)) continue;
    const auto digest = exports::digest_of_file(entry.path());
    if (!digest)
      return Failure{"app", "unreadable", entry.path().string() + " cannot be read.",
                     "See that you may read it, or take it out of the bag."};
    payload[place] = *digest;
  }
  return octets;
}

Result<Done> close_bag(const fs::path& bag, const exports::Dataset& dataset, exports::BagManifest& payload) {
  const auto octets = take_in_the_rest(bag, payload);
  if (!octets.ok()) return octets.failure();
  const std::vector<std::pair<std::string, std::string>> tags{
      {"bag-info.txt", exports::bag_info(dataset, now_utc().substr(0, 10), *octets, payload.size())},
      {exports::kPayloadManifest, exports::manifest_text(payload)},
      {"bagit.txt", exports::kBagDeclaration}};
  exports::BagManifest tag_manifest;
  for (const auto& [name, text] : tags) {
    if (auto saved = bench::save(bag / name, text); !saved.ok()) return saved;
    tag_manifest[name] = digest_of(text);
  }
  if (auto saved = bench::save(bag / exports::kTagManifest, exports::manifest_text(tag_manifest)); !saved.ok()) return saved;
  bench::sweep(bag);
  return Done{};
}

Result<Done> fill_bag(store::Store& store, const exports::Dataset& dataset, const fs::path& bag, const run::StopSignal& stop,
                      Copied& copied) {
  std::error_code error;
  fs::create_directories(bag / "data", error);
  if (error)
    return Failure{"app", "unwritable", fmt::format("{} cannot be made a folder: {}.", bag.string(), error.message()),
                   "Name a folder that you may write to."};
  for (const char* name : {exports::kTagManifest, exports::kPayloadManifest})
    fs::remove(bag / name, error);  // no bag until it is whole again
  exports::BagManifest payload;
  std::optional<Failure> trouble;
  store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
    if (trouble || stop.asked() || photograph.index.photo.sha256.hex.empty()) return;
    if (const auto done = copy_original(store, photograph.index.photo, bag, payload, copied); !done.ok())
      trouble = done.failure();
  });
  if (trouble) return *trouble;
  if (stop.asked()) return Done{};
  if (auto kept = keep_index(store, dataset, bag, payload); !kept.ok()) return kept;
  return close_bag(bag, dataset, payload);
}

ExitCode run(const BagAsked& asked) {
  const run::StopSignal stop;
  const auto dataset = dataset_of(asked.about, asked.collection);
  if (!dataset.ok()) return said(dataset.failure());
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) -> ExitCode {
    Copied copied;
    if (const auto filled = fill_bag(store, *dataset, asked.output, stop, copied); !filled.ok()) return said(filled.failure());
    std::cerr << fmt::format("{} originals copied, {} were there already, {} could not be had.\n", copied.written,
                             copied.unchanged, copied.failed);
    if (stop.asked()) return kInterrupted;
    const auto faults = exports::faults_of_bag(asked.output);  // read back from the disk
    if (!faults.ok()) return said(faults.failure());
    for (const std::string& fault : *faults) std::cerr << fault << '\n';
    if (!faults->empty()) return kCannotGoOn;
    std::cout << asked.output << '\n';
    return copied.failed > 0 ? kSomeFailed : kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<BagAsked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("-o,--output", asked->output, "Folder of the bag; made when it is not there.")->required();
  add_about(command, asked->about);
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command bag;
const Command bag{"bag", "Hand on", "Pack original photographs and index into a bag (BagIt 1.0) for long keeping.",
                  "Copies what is not there yet, reads everything back and checks it; a run that was cut short leaves no bag, "
                  "and the next one\n"
                  "goes on. 'papillote verify --bag' checks it later, and so does sha256sum -c manifest-sha256.txt.\n"
                  "Example: papillote bag --collection tins -o tins-bag",
                  setup};

}  // namespace papillote::app::commands
