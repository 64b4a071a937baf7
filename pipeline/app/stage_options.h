// The options of the stages as options of a command, from their one description.
#pragma once

#include <CLI/CLI.hpp>

#include "pipeline/app/line.h"

namespace papillote::app {

void add_stage_options(CLI::App&, LineOptions&);

}  // namespace papillote::app
