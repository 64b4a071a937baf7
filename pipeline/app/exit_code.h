// The program's exit codes: a stable interface for scripts, listed in the README.
#pragma once

namespace papillote::app {

enum ExitCode : int {
  kAllDone = 0,
  kCannotGoOn = 1,       // could not start or go on: store damaged, disk full, model missing
  kWrongCommand = 2,     // unknown option, value out of range
  kSomeFailed = 3,       // finished, but some photographs stand failed
  kStoreBusy = 4,        // another batch holds this collection
  kInterrupted = 130,
};

}  // namespace papillote::app
