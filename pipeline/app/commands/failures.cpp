// papillote failures: the photographs that stand failed, why, and what to do.
#include <fmt/format.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/store/photographs.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string collection;
  bool json = false;
};

ExitCode run(const Asked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    const auto failures = store::standing_failures(store);
    if (asked.json) {
      auto all = nlohmann::ordered_json::array();
      for (const auto& [path, failure] : failures)
        all.push_back({{"photograph", path},
                       {"stage", failure.stage},
                       {"kind", failure.kind},
                       {"reason", failure.reason},
                       {"remedy", failure.remedy}});
      std::cout << all.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    } else {
      for (const auto& [path, failure] : failures)
        std::cout << fmt::format("{}\n  {}: {}\n  {}\n", path, failure.kind, failure.reason, failure.remedy);
      if (failures.empty()) std::cout << "No photograph stands failed.\n";
    }
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_flag("--json", asked->json, "As JSON.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command failures{"failures", "Batch", "List the photographs that stand failed, with reason and remedy.",
                              "Example: papillote failures --collection tins", setup};

}  // namespace papillote::app::commands
