// SIGINT and SIGTERM ask for an orderly end; a second one ends at once with exit status 130.
#pragma once

#include <atomic>

namespace papillote::run {

// Listens while it lives; one at a time.
class StopSignal {
 public:
  StopSignal();
  ~StopSignal();
  StopSignal(const StopSignal&) = delete;
  StopSignal& operator=(const StopSignal&) = delete;

  [[nodiscard]] const std::atomic<bool>& asked() const;
};

}  // namespace papillote::run
