// What only the collection as a whole can say: what grew since an earlier photograph, how a tin is kept, what is rare in the
// index. The last step of a batch: every envelope is ranked again with it, and with what people settled.
#pragma once

#include <map>
#include <string>

#include "pipeline/record/storage.h"
#include "pipeline/store/store.h"
#include "stages/triage/rules.h"

namespace CLI {
class App;
}

namespace papillote::app {

// Files that a curator keeps; empty = triage.csv and containers.csv in the collection's folder, where they are there.
struct CuratorsTables {
  std::string rules;
  std::string containers;
};
void add_rules(CLI::App&, CuratorsTables&);
void add_containers(CLI::App&, CuratorsTables&);

// The printed rules where there is no table. Failures name file and line.
[[nodiscard]] Result<triage::Rules> rules_of(const CuratorsTables&, const std::string& collection);

// By tin; empty where there is no table. Climate tables lie beside the table of containers.
[[nodiscard]] Result<std::map<std::string, Storage>> storage_by_tin(const CuratorsTables&, const std::string& collection);

// What stands on the tins, from the table of containers; empty where there is no table. Failures as above.
[[nodiscard]] Result<std::map<std::string, std::string>> headings_by_tin(const CuratorsTables&, const std::string& collection);

// Whether anything changed since the priorities were last set.
[[nodiscard]] bool priorities_due(store::Store&, const triage::Rules&, const std::map<std::string, Storage>&);

// One transaction a photograph, the same result however often it is called or cut short. The store is open for a batch.
// Returns the number of envelopes on which something grew.
int set_priorities(store::Store&, const triage::Rules&, const std::map<std::string, Storage>&);

}  // namespace papillote::app
