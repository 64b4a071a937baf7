// papillote correct: corrections from a table, all or none.
#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/corrections.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/page.h"

namespace papillote::app::commands {
namespace {

struct CorrectAsked {
  std::string table;
  std::string collection;
  std::string who;
  bool dry_run = false;
};

ExitCode correct_in(store::Store& store, const CorrectAsked& asked, const std::string& csv) {
  const auto table = read_corrections(store, csv, asked.who, now_utc());
  if (!table.ok()) return said(table.failure());
  for (const std::string& fault : table->faults) std::cerr << asked.table << ", " << fault << '\n';
  if (!table->faults.empty()) {
    std::cerr << fmt::format("{} rows cannot be taken; nothing was recorded.\n", table->faults.size());
    return kCannotGoOn;
  }
  if (!asked.dry_run)
    if (const auto recorded = record_corrections(store, table->corrections); !recorded.ok()) return said(recorded.failure());
  for (const Correction& correction : table->corrections)
    std::cout << fmt::format("{}  {}  {} -> {}\n", correction.decision.envelope_id, correction.decision.term,
                             bench::harmless(correction.now), bench::harmless(correction.then));
  std::cerr << fmt::format("{} corrections {}.\n", table->corrections.size(), asked.dry_run ? "would be recorded" : "recorded");
  return kAllDone;
}

ExitCode run(const CorrectAsked& asked) {
  std::ifstream in(asked.table, std::ios::binary);
  if (!in) return said({"app", "unreadable", asked.table + " cannot be read.", "Name a table that is there."});
  const std::string csv{std::istreambuf_iterator<char>(in), {}};
  return with_collection(asked.collection, asked.dry_run ? store::Access::read : store::Access::desk,
                         [&](store::Store& store) { return correct_in(store, asked, csv); });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<CorrectAsked>();
  if (const char* user = std::getenv("USER")) asked->who = user;
  command
      .add_option("table", asked->table,
                  "CSV with id or catalogue_number, term, value; and where wanted who, note, was, and for a place country, "
                  "latitude, longitude, uncertainty_m.")
      ->required();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--who", asked->who, "Who settled what no row says of.")->capture_default_str();
  command.add_flag("--dry-run", asked->dry_run, "Say what would change, and change nothing.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command correct;
const Command correct{"correct", "Find", "Take corrections from a table, all or none.",
                      "A row whose 'was' is not the value that stands now is refused; so is the whole table when one row is. "
                      "Write (none) for what is\n"
                      "not there, (take back) to take an earlier correction back. The apostrophe before what looks like a "
                      "formula is left out again.\n"
                      "Example: papillote correct corrections.csv --dry-run --collection tins",
                      setup};

}  // namespace papillote::app::commands
