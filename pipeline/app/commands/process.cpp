// papillote process: a folder of photographs into a collection's index.
#include <algorithm>
#include <filesystem>
#include <iostream>
#include <optional>
#include <thread>

#include <fmt/format.h>

#include "models/library.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/gazetteers.h"
#include "pipeline/app/line.h"
#include "pipeline/app/priorities.h"
#include "pipeline/app/stage_options.h"
#include "pipeline/app/tins.h"
#include "pipeline/app/trouble.h"
#include "pipeline/image/image.h"
#include "pipeline/run/batch.h"
#include "pipeline/run/guard.h"
#include "pipeline/run/stop.h"
#include "stages/interpretation/dates.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string photographs;
  std::string collection;
  std::string gazetteer;
  LineOptions line;
  CuratorsTables tables;
  int jobs = 0;
  double memory_megapixels = 120;
  double patience_s = 600;
  bool rehash = false;
  bool retry_failed = false;
};

// What the envelopes of a tin and of the collection say together, once all of them have been read.
ExitCode read_together(const Asked& asked, const triage::Rules& rules, const std::map<std::string, Storage>& storage,
                       const Headings& headings, const interpretation::Gazetteer* gazetteer) {
  bool due = false;
  const ExitCode looked = with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    due = tins_due(store, headings) || priorities_due(store, rules, storage);
    return kAllDone;
  });
  if (looked != kAllDone || !due) return looked;
  return with_collection(asked.collection, store::Access::batch, [&](store::Store& store) {
    const int owing = go_through_tins(store, asked.line.interpretation, headings, gazetteer);
    if (owing > 0) std::cerr << fmt::format("{} envelopes owe a date, place or collector to the others of their tin.\n", owing);
    const int grown = set_priorities(store, rules, storage);
    if (grown > 0) std::cerr << fmt::format("On {} envelopes something grew since an earlier photograph; see 'papillote grown'.\n", grown);
    return kAllDone;
  });
}

ExitCode run(const Asked& asked) {
  const run::StopSignal stop;
  const std::string& period = asked.line.interpretation.period;
  if (!period.empty() && !interpretation::read_period(period)) {
    std::cerr << fmt::format("papillote: --period {} is no span of years. Write two years, the earlier first, such as 1895/1904.\n", period);
    return kWrongCommand;
  }
  const auto rules = rules_of(asked.tables, asked.collection);
  if (!rules) return said(rules.failure());
  const auto storage = storage_by_tin(asked.tables, asked.collection);
  if (!storage) return said(storage.failure());
  const auto headings = headings_by_tin(asked.tables, asked.collection);
  if (!headings) return said(headings.failure());
  const std::string gazetteer_key = gazetteer_identity(asked.gazetteer, asked.collection);
  std::optional<interpretation::Gazetteer> gazetteer;
  if (gazetteer_key.empty() && asked.gazetteer.empty()) {
    std::cerr << "papillote: there is no gazetteer beside the program, so places stay open. See 'papillote gazetteer --help'.\n";
  } else {
    auto opened = open_gazetteer(asked.gazetteer, asked.collection);
    if (!opened.ok()) return said(opened.failure());
    gazetteer.emplace(std::move(opened).value());
  }

  const auto make_line = [&]() -> Result<run::Line> {
    auto finder = segmentation::Finder::open(models::models_folder());
    if (!finder.ok()) return finder.failure();
    auto line_net = models::CropNet::open(models::models_folder(), "lines");
    if (!line_net.ok()) return line_net.failure();
    auto damage_net = models::CropNet::open(models::models_folder(), "damage");
    if (!damage_net.ok()) return damage_net.failure();
    auto readers = reading::Readers::open(models::models_folder(), asked.line.reading);
    if (!readers.ok()) return readers.failure();
    auto bench = std::make_shared<Bench>(
        Bench{std::move(finder).value(), std::move(line_net).value(), std::move(damage_net).value(), std::move(readers).value(), gazetteer ? &*gazetteer : nullptr, gazetteer_key, *rules});
    return run::Line([bench, &asked](run::Photograph& photograph, run::Step& step) { return run_line(photograph, step, *bench, asked.line); });
  };

  image::prepare_colour_tables();
  run::BatchOptions options;
  options.photographs = asked.photographs;
  options.collection = asked.collection;
  options.jobs = asked.jobs > 0 ? asked.jobs : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  options.rehash = asked.rehash;
  options.retry_failed = asked.retry_failed;
  options.memory_megapixels = asked.memory_megapixels;
  options.patience_s = asked.patience_s;
  const auto progress = run::progress_on(stderr);
  const auto totals = run::run_batch(options, make_line, *progress, stop.asked());
  if (!totals.ok()) return said(totals.failure());

  std::cerr << fmt::format("{} photographs: {} worked on, {} already known, {} stand failed.\n", totals->photographs, totals->done,
                           totals->known, totals->failed);
  if (totals->stopped) {
    std::cerr << "Stopped as asked; run the same command to go on.\n";
    return kInterrupted;
  }
  if (const ExitCode read = read_together(asked, *rules, *storage, *headings, gazetteer ? &*gazetteer : nullptr); read != kAllDone) return read;
  if (totals->failed > 0) {
    std::cerr << fmt::format("See 'papillote failures --collection {}'.\n", asked.collection);
    return kSomeFailed;
  }
  return kAllDone;
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("photographs", asked->photographs, "Folder of photographs; subfolders are taken too.")->required();
  command.add_option("--collection", asked->collection, "Folder that holds the index; made when it is not there.")->required();
  command.add_option("--jobs", asked->jobs, "Photographs at a time (default: one per processor core).")->check(CLI::Range(1, 256));
  command.add_option("--memory-megapixels", asked->memory_megapixels, "Decoded pixels held at a time by all jobs together.")
      ->check(CLI::Range(1.0, 10000.0))
      ->capture_default_str();
  command.add_option("--patience", asked->patience_s, "Seconds for one photograph before it counts as crashed.")
      ->check(CLI::Range(1.0, 86400.0))
      ->capture_default_str();
  command.add_option("--gazetteer", asked->gazetteer, "Gazetteer file (default: the one beside the program).");
  add_rules(command, asked->tables);
  add_containers(command, asked->tables);
  command.add_flag("--rehash", asked->rehash, "Read every file again, even where size and time are unchanged.");
  command.add_flag("--retry-failed", asked->retry_failed, "Ask again where the stored answer is a failure.");
  add_stage_options(command, asked->line);
  return [asked] {
    const auto again = [] { std::cerr << "papillote: a photograph ended the program; the batch goes on.\n"; };
    return static_cast<ExitCode>(run::guarded([&] { return int{run(*asked)}; }, again));
  };
}

}  // namespace

extern const Command process{"process", "Batch", "Find, read and judge every envelope in a folder of photographs.",
                             "Nothing is done twice: a second run, or one after an interruption, does only what is missing or changed.\n"
                             "Photographs are only read, never written.\n"
                             "Example: papillote process photographs/tin07 --collection tins --period 1895/1904",
                             setup};

}  // namespace papillote::app::commands
