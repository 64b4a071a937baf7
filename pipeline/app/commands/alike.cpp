// papillote alike: envelopes that say the same or nearly the same, so that one correction can serve all of them.
#include <fmt/format.h>

#include <algorithm>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/store/index.h"
#include "stages/interpretation/tin.h"

namespace papillote::app::commands {
namespace {

struct Asked {
  std::string collection;
  std::string tin;
  bool json = false;
};

struct Envelope {
  std::string id;
  std::string tin;
  std::string sheet;
  int position = 0;
};

ExitCode run(const Asked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    std::vector<Envelope> envelopes;
    std::vector<std::string> texts;
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
      const Sheet sheet = photograph.index.calibration.sheet.value_or(Sheet{});
      if (!asked.tin.empty() && sheet.tin != asked.tin) return;
      for (const IndexRecord& record : photograph.index.envelopes) {
        envelopes.push_back({record.id, sheet.tin, sheet.sheet, record.outline.number + 1});
        texts.push_back(record.annotation.text);
      }
    });
    auto groups = interpretation::like_annotations(texts);
    std::stable_sort(groups.begin(), groups.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
    auto all = nlohmann::ordered_json::array();
    for (const auto& group : groups) {
      auto members = nlohmann::ordered_json::array();
      if (!asked.json) std::cout << fmt::format("{} envelopes alike\n", group.size());
      for (const std::size_t i : group) {
        const Envelope& one = envelopes[i];
        std::string line = texts[i];
        std::replace(line.begin(), line.end(), '\n', '/');
        if (asked.json)
          members.push_back({{"id", one.id}, {"tin", one.tin}, {"sheet", one.sheet}, {"position", one.position}, {"text", texts[i]}});
        else
          std::cout << fmt::format("  {}  tin {} sheet {} position {}  {}\n", one.id, one.tin, one.sheet, one.position, line);
      }
      all.push_back(std::move(members));
    }
    if (asked.json)
      std::cout << all.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    else if (groups.empty())
      std::cout << "No two envelopes are alike.\n";
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--tin", asked->tin, "Only this tin.");
  command.add_flag("--json", asked->json, "As JSON: an array of groups.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command alike{"alike", "Find", "Group envelopes whose annotations are equal or nearly equal.",
                           "The largest group comes first. A misread letter, another day or number does not part two envelopes.\n"
                           "Example: papillote alike --collection tins --tin 07",
                           setup};

}  // namespace papillote::app::commands
