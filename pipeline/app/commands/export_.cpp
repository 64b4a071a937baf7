// papillote export: the index in an outside format, on stdout.
#include <fmt/format.h>

#include <algorithm>
#include <iostream>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/exports/exporter.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string format;
  std::string collection;
};

ExitCode run(const Asked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    for (const exports::Exporter* exporter : exports::formats::all())
      if (exporter->name == asked.format) exporter->write(exports::rows_of(store), std::cout);
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
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command export_{
    "export", "Hand on", "Write the whole index to stdout in an open format.",
    "Machine readings keep their confidence and evidence; what a person settled has confidence 1 and says by whom.\n"
    "Example: papillote export json --collection tins > index.json",
    setup};

}  // namespace papillote::app::commands
