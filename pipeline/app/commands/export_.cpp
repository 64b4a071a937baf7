// papillote export: the index in an outside format, on stdout.
#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/exports/exporter.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string format;
  std::string collection;
  std::string about;
};

// What the collection says of itself: the file asked for, or the one in its folder when there is one.
Result<exports::Dataset> dataset_of(const Asked& asked) {
  const std::filesystem::path file = asked.about.empty() ? std::filesystem::path(asked.collection) / "about.json" : std::filesystem::path(asked.about);
  std::ifstream in(file, std::ios::binary);
  if (!in && asked.about.empty()) return exports::Dataset{};
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  if (!in)
    return Failure{"app", "unreadable", fmt::format("{} cannot be read.", file.string()), "See that the file is there and that you may read it."};
  return exports::read_dataset(text, file.string());
}

ExitCode run(const Asked& asked) {
  const auto dataset = dataset_of(asked);
  if (!dataset.ok()) return said(dataset.failure());
  if (asked.format == "dwca" && dataset->title.empty())
    std::cerr << "papillote: title, licence and contact of the data set are not stated: write them into about.json before publishing.\n";
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) -> ExitCode {
    for (const exports::Exporter* exporter : exports::formats::all())
      if (exporter->name == asked.format) {
        if (const auto written = exporter->write(exports::rows_of(store), *dataset, std::cout); !written.ok()) return said(written.failure());
      }
    std::cout.flush();
    if (!std::cout) {
      std::cerr << "papillote: the output could not be written to its end. Is the disk full?\n";
      return kCannotGoOn;
    }
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  std::vector<std::string> names;
  std::string titles;
  for (const exports::Exporter* exporter : exports::formats::all()) {
    names.emplace_back(exporter->name);
    titles += fmt::format("{}{}: {}", titles.empty() ? "" : " ", exporter->name, exporter->title);
  }
  command.add_option("format", asked->format, titles)->required()->check(CLI::IsMember(names));
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--about", asked->about, "JSON file with title, licence, contact and codes of the collection (default: about.json in its folder).");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command export_{
    "export", "Hand on", "Write the whole index to stdout in an open format.",
    "Machine readings keep their confidence and evidence; what a person settled has confidence 1 and says by whom.\n"
    "Example: papillote export json --collection tins > index.json",
    setup};

}  // namespace papillote::app::commands
