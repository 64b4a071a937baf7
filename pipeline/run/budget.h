// A budget of megapixels shared by the workers: a photograph waits before it is decoded until there is room.
#pragma once

#include <algorithm>
#include <condition_variable>
#include <mutex>
#include <utility>

namespace papillote::run {

class Budget {
 public:
  explicit Budget(double megapixels) : whole_(megapixels), free_(megapixels) {}

  // Given back when it goes. A photograph larger than the whole budget waits until it is alone.
  class Share {
   public:
    Share() = default;
    Share(Budget& budget, double megapixels) : budget_(&budget), megapixels_(megapixels) {}
    Share(Share&& other) noexcept : budget_(std::exchange(other.budget_, nullptr)), megapixels_(other.megapixels_) {}
    Share& operator=(Share&& other) noexcept {
      std::swap(budget_, other.budget_);
      std::swap(megapixels_, other.megapixels_);
      return *this;
    }
    ~Share() {
      if (budget_ != nullptr) budget_->give_back(megapixels_);
    }

   private:
    Budget* budget_ = nullptr;
    double megapixels_ = 0;
  };

  [[nodiscard]] Share take(double megapixels) {
    const double wanted = std::min(megapixels, whole_);
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return free_ >= wanted; });
    free_ -= wanted;
    return Share(*this, wanted);
  }

 private:
  void give_back(double megapixels) {
    {
      const std::lock_guard lock(mutex_);
      free_ = std::min(whole_, free_ + megapixels);
    }
    changed_.notify_all();
  }

  const double whole_;
  double free_;
  std::mutex mutex_;
  std::condition_variable changed_;
};

}  // namespace papillote::run
