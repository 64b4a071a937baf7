// One way to work on a collection: what may go wrong with its store becomes a sentence and an exit code.
#pragma once

#include <functional>
#include <string>

#include "pipeline/app/exit_code.h"
#include "pipeline/store/store.h"

namespace papillote::app {

[[nodiscard]] ExitCode with_collection(const std::string& collection, store::Access access,
                                       const std::function<ExitCode(store::Store&)>& work);

}  // namespace papillote::app
