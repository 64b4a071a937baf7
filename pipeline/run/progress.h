// What a batch says while it works. All of it goes to one stream, stderr in the program.
#pragma once

#include <cstdio>
#include <memory>
#include <string>

#include "pipeline/record/result.h"

namespace papillote::run {

enum class Ending { known, done, failed };

class Progress {
 public:
  virtual ~Progress() = default;
  virtual void begin(int photographs) = 0;
  virtual void photograph(const std::string& path, Ending, const Failure*) = 0;  // from one thread at a time
  virtual void remark(const std::string& sentence) = 0;
  virtual void end() = 0;
};

// On a terminal one line that is drawn anew (done of all, failed, time left); elsewhere a line per failure and remark.
[[nodiscard]] std::unique_ptr<Progress> progress_on(std::FILE* stream);
// Says nothing.
[[nodiscard]] std::unique_ptr<Progress> no_progress();

}  // namespace papillote::run
