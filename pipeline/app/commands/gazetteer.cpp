// papillote gazetteer build: the base gazetteer from the tables that scripts/fetch_gazetteer installed.
// papillote gazetteer add FILE: a curator's own table of places, for one collection.
// papillote gazetteer show NAME: what the gazetteer holds under a name.
#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <memory>
#include <string>

#include "pipeline/app/command.h"
#include "pipeline/app/gazetteers.h"
#include "stages/interpretation/gazetteer_build.h"
#include "stages/interpretation/place_names.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Arguments {
  std::string folder;
  std::string output;
  std::string file;
  std::string collection;
  std::string name;
  CLI::App* build = nullptr;
  CLI::App* add = nullptr;
};

ExitCode complain(const Failure& failure) {
  std::cerr << fmt::format("papillote: {} {}\n", failure.reason, failure.remedy);
  return kCannotGoOn;
}

ExitCode build(const Arguments& arguments) {
  const fs::path folder = arguments.folder.empty() ? gazetteer_folder() : fs::path(arguments.folder);
  const fs::path output = arguments.output.empty() ? gazetteer_folder() / "places.bin" : fs::path(arguments.output);
  const interpretation::BaseSources sources{folder / "cities500.txt",
                                            folder / "admin1.json",
                                            folder / "admin2.json",
                                            "/usr/share/iso-codes/json",
                                            "/usr/share/unicode/cldr/common/subdivisions",
                                            folder / "former_names.tsv",
                                            folder / "division_abbreviations.tsv"};
  if (const auto built = interpretation::build_base_gazetteer(sources, output); !built) return complain(built.failure());
  const auto gazetteer = open_gazetteer(output, {});
  if (!gazetteer) return complain(gazetteer.failure());
  std::cout << fmt::format("{}: {} places\n", output.string(), gazetteer->size());
  for (const auto& attribution : gazetteer->attributions()) std::cout << attribution << '\n';
  return kAllDone;
}

ExitCode add(const Arguments& arguments) {
  const auto base = open_gazetteer({}, {});
  if (!base) return complain(base.failure());
  const fs::path table = arguments.file;
  const fs::path output = fs::path(arguments.collection) / "gazetteer" / (table.stem().string() + ".bin");
  const auto added = interpretation::build_added_gazetteer(table, &*base, output);
  if (!added) return complain(added.failure());
  std::cout << fmt::format("{}: {} places added, {} rows left out for want of a name or a position\n", output.string(),
                           added->places, added->left_out);
  return kAllDone;
}

ExitCode show(const Arguments& arguments) {
  const auto gazetteer = open_gazetteer({}, arguments.collection);
  if (!gazetteer) return complain(gazetteer.failure());
  const auto key = interpretation::name_key(arguments.name);
  auto matches = gazetteer->named(key);
  if (matches.empty()) matches = gazetteer->named_about(key, 1.0);
  for (const auto& match : matches) {
    const auto place = gazetteer->place(match.place);
    std::cout << fmt::format("{}\t{}\t{}\t{}\t{:.5f}\t{:.5f}\t{:.0f} m\n", place.name, place.id, place.division,
                             interpretation::name_of(place.kind), place.lat_deg, place.lon_deg, place.radius_m);
  }
  return kAllDone;
}

std::function<ExitCode()> setup(CLI::App& subcommand) {
  auto arguments = std::make_shared<Arguments>();
  subcommand.require_subcommand(1);
  arguments->build = subcommand.add_subcommand("build", "Make the base gazetteer from the installed tables.");
  arguments->build->add_option("--from", arguments->folder, "Folder of the tables; default: 'gazetteer' beside the program.");
  arguments->build->add_option("--output", arguments->output,
                               "File to write; default: 'gazetteer/places.bin' beside the program.");
  arguments->add = subcommand.add_subcommand("add", "Add a table of places to a collection's gazetteer.");
  arguments->add
      ->add_option("file", arguments->file, "A GeoNames dump as published, or a tab-separated table with name, lat, lon.")
      ->required();
  arguments->add->add_option("--collection", arguments->collection, "Folder of the collection.")->required();
  auto* named = subcommand.add_subcommand("show", "List the places of a name.");
  named->add_option("name", arguments->name, "The name, in any spelling.")->required();
  named->add_option("--collection", arguments->collection, "Folder of the collection whose additions count as well.");
  return [arguments] {
    if (arguments->build->parsed()) return build(*arguments);
    if (arguments->add->parsed()) return add(*arguments);
    return show(*arguments);
  };
}

}  // namespace

extern const Command gazetteer;
const Command gazetteer{
    "gazetteer", "Care", "Make the gazetteer, add your own places to it, or look a name up.",
    "A table of your own has a first line of column names, separated by tabs: name, lat and lon, and if you have them\n"
    "alternates, country_code, radius_km, kind, population, admin1, id. A GeoNames dump is taken as published.\n"
    "Example: papillote gazetteer add estates.tsv --collection ~/lepidoptera",
    setup};

}  // namespace papillote::app::commands
