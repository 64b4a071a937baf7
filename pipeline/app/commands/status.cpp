// papillote status: how a collection stands.
#include <fmt/format.h>

#include <iostream>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/store/photographs.h"

namespace papillote::app::commands {
namespace {

ExitCode run(const std::string& collection) {
  return with_collection(collection, store::Access::read, [&](store::Store& store) {
    const store::Totals totals = store::totals(store);
    std::cout << fmt::format("{} photographs, {} envelopes\n", totals.photographs, totals.envelopes);
    if (totals.failed > 0) std::cout << fmt::format("{} photographs stand failed: see 'papillote failures'\n", totals.failed);
    if (totals.retake > 0) std::cout << fmt::format("{} photographs should be taken again\n", totals.retake);
    if (totals.missing > 0) std::cout << fmt::format("{} photographs are no longer in their folder\n", totals.missing);
    if (totals.orphaned_decisions > 0)
      std::cout << fmt::format("{} decisions wait for an envelope that is no longer found\n", totals.orphaned_decisions);
    for (const auto& [level, number] : totals.levels) std::cout << fmt::format("  {:<10} {}\n", level, number);
    for (const auto& [tin, number] : totals.tins)
      std::cout << fmt::format("  {:<10} {}\n", tin.empty() ? "no tin" : "tin " + tin, number);
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto collection = std::make_shared<std::string>();
  command.add_option("--collection", *collection, "Folder that holds the index.")->required();
  return [collection] { return run(*collection); };
}

}  // namespace

extern const Command status{"status", "Batch", "Say how a collection stands: photographs, envelopes, what is urgent.",
                            "Example: papillote status --collection tins", setup};

}  // namespace papillote::app::commands
