// A command of the program: one file in commands/ each, which defines `const Command <file name>`.
//
// Results go to stdout, everything else to stderr. `setup` declares the command's options on its own CLI11
// subcommand and returns what to run once they are parsed; CLI11 calls nothing by itself.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <string_view>

#include "pipeline/app/exit_code.h"

namespace papillote::app {

struct Command {
  std::string_view name;   // as typed: "search"
  std::string_view group;  // "Batch", "Find", "Bench", "Follow", "Hand on", "Care"
  std::string_view brief;  // one sentence
  std::string_view text;   // the longer help with an example
  std::function<ExitCode()> (*setup)(CLI::App& subcommand);
};

}  // namespace papillote::app
