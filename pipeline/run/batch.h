// A folder of photographs through the line: workers, one writer, an orderly end.
//
// A photograph that was in hand when the last batch ended without a word is tried first, alone. The program notes on
// which photograph it crashed; one that crashed it twice is recorded as Failure "crashed" and passed over.
#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <optional>

#include "pipeline/record/result.h"
#include "pipeline/run/progress.h"
#include "pipeline/run/step.h"
#include "pipeline/store/index.h"

namespace papillote::run {

// The line for one photograph. Owned by one worker and never called from two threads.
using Line = std::function<store::Outcome(Photograph&, Step&)>;
// Called once per worker, from its thread: makes what the worker keeps for all photographs, such as engines.
using MakeLine = std::function<Result<Line>()>;

struct BatchOptions {
  std::filesystem::path photographs;
  std::filesystem::path collection;
  int jobs = 1;
  bool rehash = false;             // distrust size and time stamp
  bool retry_failed = false;       // ask again where the stored answer is a failure, crashes included
  double memory_megapixels = 120;  // decoded at one time by all workers together
  double patience_s = 600;         // with one photograph, after which it counts as a crash and ends the program
};

struct BatchTotals {
  int photographs = 0;
  int done = 0;    // something ran
  int known = 0;   // nothing had to
  int failed = 0;  // stand failed now, whether found in this batch or before
  bool stopped = false;
};

// Failures end the batch: no_folder, unreadable, no_photographs, busy, damaged, newer_store, disk_full, out_of_memory, what
// MakeLine says. Photographs that fail do not; they are counted and kept.
[[nodiscard]] Result<BatchTotals> run_batch(const BatchOptions&, const MakeLine&, Progress&, const std::atomic<bool>& stop);

}  // namespace papillote::run
