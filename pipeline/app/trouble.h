// How a command tells the user that it cannot go on.
#pragma once

#include "pipeline/app/exit_code.h"
#include "pipeline/record/result.h"

namespace papillote::app {

// One sentence with reason and remedy on stderr; the exit code that the kind of failure stands for.
[[nodiscard]] ExitCode said(const Failure&);

}  // namespace papillote::app
