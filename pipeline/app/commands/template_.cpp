// papillote template: the tables that a curator fills in or changes, as CSV.
#include <iostream>
#include <memory>

#include "pipeline/app/command.h"
#include "pipeline/record/containers.h"
#include "stages/triage/rules.h"

namespace papillote::app::commands {
namespace {

std::function<ExitCode()> setup(CLI::App& command) {
  command.require_subcommand(1);
  auto print = std::make_shared<std::function<std::string()>>();
  command.add_subcommand("rules", "Rules of triage: every sign with its level, weight, words and why.")->callback([print] {
    *print = [] { return triage::rules_csv(triage::printed_rules()); };
  });
  command.add_subcommand("containers", "How each tin is kept, and what stands on it for all its envelopes.")
      ->callback([print] { *print = [] { return containers_csv({Container{.tin = "07"}}); }; });
  return [print] {
    std::cout << (*print)();
    return kAllDone;
  };
}

}  // namespace

extern const Command template_;
const Command template_{
    "template", "Batch", "Print a table to change or fill in: rules of triage, containers of the tins.",
    "Save it as triage.csv or containers.csv in the collection's folder; 'process' and 'print report' take it from there.\n"
    "Example: papillote template rules > tins/triage.csv",
    setup};

}  // namespace papillote::app::commands
