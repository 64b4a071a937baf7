// papillote grown: what grew since an earlier photograph of the same envelope.
#include <fmt/format.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/bench/words.h"
#include "pipeline/store/index.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string collection;
  std::string tin;
  bool json = false;
};

ExitCode run(const Asked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    auto all = nlohmann::ordered_json::array();
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
      const Photo& photo = photograph.index.photo;
      const Sheet sheet = photograph.index.calibration.sheet.value_or(Sheet{});
      if (!asked.tin.empty() && sheet.tin != asked.tin) return;
      for (const IndexRecord& record : photograph.index.envelopes)
        for (const Finding& finding : record.condition.findings) {
          if (finding.grown_since.empty()) continue;
          all.push_back({{"id", record.id},
                         {"tin", sheet.tin},
                         {"sheet", sheet.sheet},
                         {"position", record.outline.number + 1},
                         {"photo", photo.path},
                         {"kind", finding.kind},
                         {"severity", finding.severity},
                         {"grown_since", finding.grown_since},
                         {"taken", photo.taken}});
          if (!asked.json)
            std::cout << fmt::format("{}  tin {} sheet {} position {}  {}  grown since {} (photograph of {}: {})\n", record.id,
                                     sheet.tin, sheet.sheet, record.outline.number + 1, bench::finding_words(finding),
                                     finding.grown_since.substr(0, 10), photo.taken.substr(0, 10), photo.path);
        }
    });
    if (asked.json)
      std::cout << all.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    else if (all.empty())
      std::cout << "Nothing is known to have grown. That needs two photographs of an envelope that say when they were taken.\n";
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--tin", asked->tin, "Only this tin.");
  command.add_flag("--json", asked->json, "As JSON: an array of findings.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command grown{"grown", "Find", "List findings that grew since an earlier photograph of the same envelope.",
                           "Envelopes are known again by their slip, where a person confirmed it ('papillote again'), or on the same sheet by size and "
                           "writing; photographs by "
                           "the time their camera noted.\n"
                           "Example: papillote grown --collection tins --tin 07",
                           setup};

}  // namespace papillote::app::commands
