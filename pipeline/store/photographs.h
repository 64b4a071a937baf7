// Photographs known to the collection: where the file lies, whether it was read before, how its last run ended.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::store {

// What the file system says of a file; equal facts save reading it again.
struct FileFacts {
  std::int64_t size_bytes = 0;
  std::int64_t modified_ns = 0;

  bool operator==(const FileFacts&) const = default;
};

struct KnownPhotograph {
  std::int64_t key = 0;  // of the row
  std::string path;      // relative to its folder
  std::optional<FileFacts> facts;
  Digest sha256;         // of the bytes when `facts` were taken; empty = never read
  bool missing = false;  // not there at the last batch
  bool settled = false;  // an outcome is kept
  std::optional<Failure> failure;
  int left_in_hand = 0;  // batches that ended without a word while it was worked on, since its last outcome
  int crashes = 0;       // times the program crashed on it
};

// One row per path, in the order given, made where new. `folder` is the absolute path of the photographs' folder.
// The caller holds a transaction.
[[nodiscard]] std::vector<KnownPhotograph> take_up(Store&, const std::string& folder, const std::vector<std::string>& paths);

void keep_facts(Store&, std::int64_t photograph, const FileFacts&, const Digest&);

// The file could not be read this time: what is in the index stays.
void keep_unreadable(Store&, std::int64_t photograph, const Failure&);

// An attempt stands from before work on a photograph begins until its outcome is kept.
void begin_attempt(Store&, std::int64_t photograph);
void count_crash(Store&, const std::string& folder, const std::string& path);
void forget_crashes(Store&, std::int64_t photograph);

// A file that is gone keeps its rows, marked missing; one whose content lies under another path now was only
// moved: its row goes. `seen` are all files of the folder. The caller holds a transaction.
void settle_missing(Store&, const std::string& folder, const std::vector<std::string>& seen);

// Where the photograph's file lies, absolute; nothing when the path is not known.
[[nodiscard]] std::optional<std::filesystem::path> file_of(Store&, const std::string& path);

// The row of a photograph by its path.
[[nodiscard]] std::optional<std::int64_t> key_of_photograph(Store&, const std::string& path);

struct StandingFailure {
  std::string path;
  Failure failure;
};
[[nodiscard]] std::vector<StandingFailure> standing_failures(Store&);  // by path

struct Totals {
  int photographs = 0;
  int failed = 0;
  int missing = 0;
  int retake = 0;
  int envelopes = 0;
  int orphaned_decisions = 0;
  std::vector<std::pair<std::string, int>> tins;    // envelopes by tin, "" = not known
  std::vector<std::pair<std::string, int>> levels;  // envelopes by priority level
};
[[nodiscard]] Totals totals(Store&);

}  // namespace papillote::store
