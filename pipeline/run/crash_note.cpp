#include "pipeline/run/crash_note.h"

#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cstring>
#include <fstream>
#include <list>
#include <memory>

namespace papillote::run {
namespace {

constexpr std::array kFatal{SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT};
constexpr std::size_t kStackBytes = 64 * 1024;

std::atomic<int> note_descriptor{-1};
thread_local std::array<char, 4096> in_hand{};
thread_local std::size_t in_hand_size = 0;

using Clock = std::chrono::steady_clock;

struct Hand {
  pthread_t thread;
  Clock::time_point since;
};
// All threads that have something in hand.
std::mutex hands_mutex;
std::list<Hand> hands;
thread_local std::list<Hand>::iterator my_hand;

// The handler's own stack: the crash may be a stack that overflowed.
class HandlerStack {
 public:
  HandlerStack() : room_(std::make_unique<char[]>(kStackBytes)) {
    stack_t stack{};
    stack.ss_sp = room_.get();
    stack.ss_size = kStackBytes;
    ::sigaltstack(&stack, nullptr);
  }
  ~HandlerStack() {
    stack_t none{};
    none.ss_flags = SS_DISABLE;
    ::sigaltstack(&none, nullptr);
  }
  HandlerStack(const HandlerStack&) = delete;
  HandlerStack& operator=(const HandlerStack&) = delete;

 private:
  std::unique_ptr<char[]> room_;
};

// Only calls that a signal handler may make (POSIX, async-signal-safe functions).
void on_fatal(int number) {
  const int descriptor = note_descriptor.load();
  if (descriptor >= 0 && in_hand_size > 0) {
    const ssize_t written = ::write(descriptor, in_hand.data(), in_hand_size);
    static_cast<void>(written);
    ::fsync(descriptor);
  }
  ::signal(number, SIG_DFL);
  ::raise(number);
}

}  // namespace

CrashNote::CrashNote(const std::filesystem::path& file) {
  note_descriptor = ::open(file.c_str(), O_CREAT | O_WRONLY | O_APPEND | O_CLOEXEC, 0644);
  struct sigaction action {};
  action.sa_handler = on_fatal;
  action.sa_flags = SA_ONSTACK | SA_NODEFER;
  for (const int number : kFatal) ::sigaction(number, &action, nullptr);
}

CrashNote::~CrashNote() {
  for (const int number : kFatal) ::signal(number, SIG_DFL);
  const int descriptor = note_descriptor.exchange(-1);
  if (descriptor >= 0) ::close(descriptor);
}

std::vector<std::string> CrashNote::take(const std::filesystem::path& file) {
  std::vector<std::string> paths;
  {
    std::ifstream in(file, std::ios::binary);
    for (std::string line; std::getline(in, line);)
      if (!line.empty()) paths.push_back(line);
  }
  std::error_code ignored;
  std::filesystem::remove(file, ignored);
  return paths;
}

InHand::InHand(const std::string& path) {
  thread_local const HandlerStack stack;
  static_cast<void>(stack);
  const std::size_t size = std::min(path.size(), in_hand.size() - 1);
  std::memcpy(in_hand.data(), path.data(), size);
  in_hand[size] = '\n';
  in_hand_size = size + 1;
  const std::lock_guard lock(hands_mutex);
  my_hand = hands.insert(hands.end(), {::pthread_self(), Clock::now()});
}
InHand::~InHand() {
  {
    const std::lock_guard lock(hands_mutex);
    hands.erase(my_hand);
  }
  in_hand_size = 0;
}

Watchdog::Watchdog(std::chrono::duration<double> patience) : patience_(patience), thread_([this] { watch(); }) {}

Watchdog::~Watchdog() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void Watchdog::watch() {
  std::unique_lock lock(mutex_);
  while (!changed_.wait_for(lock, std::chrono::milliseconds(200), [this] { return ending_; })) {
    const std::lock_guard hold(hands_mutex);
    // Its own thread takes the signal: the handler there knows what it has in hand.
    for (const Hand& hand : hands)
      if (Clock::now() - hand.since > patience_) ::pthread_kill(hand.thread, SIGABRT);
  }
}

}  // namespace papillote::run
