#include "pipeline/run/writer.h"

#include <exception>

namespace papillote::run {
namespace {

constexpr std::size_t kMostWaiting = 256;

}  // namespace

Writer::Writer(store::Store& store) : store_(store), thread_([this] { work(); }) {}

Writer::~Writer() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void Writer::put(Write write) {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [&] { return waiting_.size() < kMostWaiting || failure_; });
  if (failure_) throw store::Trouble(*failure_);
  waiting_.push_back(std::move(write));
  ++put_;
  changed_.notify_all();
}

void Writer::settle() {
  std::unique_lock lock(mutex_);
  const std::size_t mine = put_;
  changed_.wait(lock, [&] { return committed_ >= mine || failure_; });
  if (failure_) throw store::Trouble(*failure_);
}

std::optional<Failure> Writer::failure() const {
  const std::lock_guard lock(mutex_);
  return failure_;
}

void Writer::work() {
  for (;;) {
    std::deque<Write> taken;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [&] { return !waiting_.empty() || ending_; });
      if (waiting_.empty()) return;
      taken.swap(waiting_);
    }
    changed_.notify_all();
    std::optional<Failure> failure;
    try {
      store::Transaction transaction(store_);
      for (const Write& write : taken) write(store_);
      transaction.commit();
    } catch (const store::Trouble& trouble) {
      failure = trouble.failure;
    } catch (const std::exception& error) {
      failure = Failure{"run", "internal", std::string("Writing failed: ") + error.what() + ".",
                        "Please report it; nothing that was kept is lost."};
    }
    {
      const std::lock_guard lock(mutex_);
      if (failure) {
        failure_ = failure;
        waiting_.clear();
      } else {
        committed_ += taken.size();
      }
    }
    changed_.notify_all();
    if (failure) return;
  }
}

}  // namespace papillote::run
