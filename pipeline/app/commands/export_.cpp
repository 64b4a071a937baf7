// papillote export: the index in an outside format, on stdout.
#include <fmt/format.h>

#include <iostream>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/dataset.h"
#include "pipeline/app/trouble.h"
#include "pipeline/exports/exporter.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string format;
  std::string collection;
  std::string about;
};

ExitCode run(const Asked& asked) {
  const auto dataset = dataset_of(asked.about, asked.collection);
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
  add_about(command, asked->about);
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command export_{
    "export", "Hand on", "Write the whole index to stdout in an open format.",
    "Machine readings keep their confidence and evidence; what a person settled has confidence 1 and says by whom.\n"
    "Example: papillote export json --collection tins > index.json",
    setup};

}  // namespace papillote::app::commands
