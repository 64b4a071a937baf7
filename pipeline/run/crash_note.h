// Which photograph each thread has in hand, so that a crash can name it.
//
// A crash inside a library ends the program; what a signal handler may still do is to append the photograph's path to a
// file that was opened before. The next batch reads it.
#pragma once

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace papillote::run {

// Listens for fatal signals while it lives; one at a time.
class CrashNote {
 public:
  explicit CrashNote(const std::filesystem::path& file);
  ~CrashNote();
  CrashNote(const CrashNote&) = delete;
  CrashNote& operator=(const CrashNote&) = delete;

  // The paths noted by earlier programs, in order; the file is empty afterwards.
  [[nodiscard]] static std::vector<std::string> take(const std::filesystem::path& file);
};

// Ends the program by SIGABRT, noted like a crash, when a thread has had one photograph in hand for longer than `patience`: a
// library that never comes back cannot be stopped in any other way. Watches while it lives.
class Watchdog {
 public:
  explicit Watchdog(std::chrono::duration<double> patience);
  ~Watchdog();
  Watchdog(const Watchdog&) = delete;
  Watchdog& operator=(const Watchdog&) = delete;

 private:
  void watch();

  std::chrono::duration<double> patience_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool ending_ = false;
  std::thread thread_;
};

// Says what this thread has in hand while it lives.
class InHand {
 public:
  explicit InHand(const std::string& path);
  ~InHand();
  InHand(const InHand&) = delete;
  InHand& operator=(const InHand&) = delete;
};

}  // namespace papillote::run
