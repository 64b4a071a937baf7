// papillote pick: from a question to a printed list that opens each tin once.
#include "pipeline/bench/pick.h"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <memory>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/question.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/save.h"
#include "pipeline/store/movements.h"

namespace papillote::app::commands {
namespace {

struct PickAsked {
  Asked filters;
  std::string collection;
  std::string output;
  std::string who;
  int limit = 0;
  bool dry_run = false;
};

ExitCode pick_from(store::Store& store, const PickAsked& asked) {
  auto question = question_of(asked.filters, asked.collection);
  if (!question.ok()) {
    (void)said(question.failure());
    return kWrongCommand;
  }
  question->limit = asked.limit;
  question->order = asked.limit > 0 ? store::Order::priority : store::Order::shelf;
  const std::vector<bench::PickEntry> entries =
      bench::picked_from(store, store::search(store, *question).hits, photo_pixels(store));

  const std::string made = now_utc();
  const bench::PickHead head{words_of(asked.filters), asked.who, made};
  std::filesystem::path table = asked.output;
  table.replace_extension(".csv");
  if (const auto saved = bench::save(asked.output, bench::pick_list_pdf(entries, head)); !saved.ok())
    return said(saved.failure());
  if (const auto saved = bench::save(table, bench::pick_list_csv(entries)); !saved.ok()) return said(saved.failure());

  const std::vector<store::Movement> movements = bench::movements_for(entries, asked.who, made, head.asked);
  if (!asked.dry_run && !movements.empty())
    if (const auto recorded = store::record_movements(store, movements); !recorded.ok()) return said(recorded.failure());

  const std::size_t out = entries.size() - movements.size();
  std::cout << fmt::format("{}\n{}\n", asked.output, table.string());
  std::cerr << fmt::format("{} envelopes on the list, {} recorded as picked{}.\n", entries.size(),
                           asked.dry_run ? 0 : movements.size(), out > 0 ? fmt::format(", {} not in their tins", out) : "");
  return kAllDone;
}

ExitCode run(const PickAsked& asked) {
  if (std::filesystem::path(asked.output).extension() == ".csv") {
    std::cerr << "papillote: -o names the PDF; the table is written beside it. Give a name that ends in .pdf.\n";
    return kWrongCommand;
  }
  return with_collection(asked.collection, asked.dry_run ? store::Access::read : store::Access::desk,
                         [&](store::Store& store) { return pick_from(store, asked); });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<PickAsked>();
  if (const char* user = std::getenv("USER")) asked->who = user;
  add_filters(command, asked->filters);
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("-o,--output", asked->output, "PDF to write; the table goes beside it as .csv.")->required();
  command.add_option("--limit", asked->limit, "The most urgent so many (default: all).")->check(CLI::Range(1, 100000));
  command.add_option("--who", asked->who, "Who takes them out.")->capture_default_str();
  command.add_flag("--dry-run", asked->dry_run, "Write the list but record nothing.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command pick;
const Command pick{"pick", "Bench", "Print a pick list that opens each tin once, and record what is taken.",
                   "Every envelope on the list is recorded as picked unless it is out already or --dry-run is given.\n"
                   "Example: papillote pick --priority stabilise --collection tins -o pick.pdf --who \"A. Curator\"",
                   setup};

}  // namespace papillote::app::commands
