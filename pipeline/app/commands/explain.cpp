// papillote explain: why each step of a photograph ran.
#include <fmt/format.h>

#include <iostream>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/store/photographs.h"
#include "pipeline/store/results.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string photograph;
  std::string collection;
};

ExitCode run(const Asked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    const auto key = store::key_of_photograph(store, asked.photograph);
    if (!key) {
      std::cerr << fmt::format("papillote: {} is no photograph of this collection. Name it as 'papillote export csv' does.\n",
                               asked.photograph);
      return kCannotGoOn;
    }
    for (const store::Standing& standing : store::standing_steps(store, *key))
      std::cout << fmt::format("{:<15} {}\n", standing.stage, standing.reason);
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("photograph", asked->photograph, "As it is called in the index.")->required();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command explain{"explain", "Batch", "Say why each step of a photograph ran.",
                             "Example: papillote explain tin07/sheet3.jpg --collection tins", setup};

}  // namespace papillote::app::commands
