// The one thread that writes: everybody else hands it what to write, and it groups what waits into one transaction.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>

#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::run {

class Writer {
 public:
  using Write = std::function<void(store::Store&)>;

  explicit Writer(store::Store& store);  // not to be used by others while the writer lives
  ~Writer();                             // writes what waits
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  // Waits while the queue is full. Throws store::Trouble once writing has failed: the batch must end.
  void put(Write write);
  // Returns when everything put before is committed; throws store::Trouble if it could not be.
  void settle();
  [[nodiscard]] std::optional<Failure> failure() const;

 private:
  void work();

  store::Store& store_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Write> waiting_;
  std::size_t put_ = 0;
  std::size_t committed_ = 0;
  std::optional<Failure> failure_;
  bool ending_ = false;
  std::thread thread_;
};

}  // namespace papillote::run
