#include "pipeline/run/guard.h"

#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>

namespace papillote::run {
namespace {

constexpr std::array kFatal{SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT};
// Each crash is noted against a photograph, which bounds them; should the note not be writable, this does.
constexpr int kMostBeginnings = 200;

std::atomic<pid_t> at_work{0};

void hand_on(int number) {
  if (const pid_t worker = at_work.load(); worker > 0) ::kill(worker, number);
}

int wait_for(pid_t worker) {
  int status = 0;
  while (::waitpid(worker, &status, 0) < 0 && errno == EINTR) continue;
  return status;
}

}  // namespace

int guarded(const std::function<int()>& work, const std::function<void()>& again) {
  for (int beginning = 1;; ++beginning) {
    const pid_t guard = ::getpid();
    const pid_t worker = ::fork();
    if (worker < 0) return work();  // no room for a second process: unguarded is better than not at all
    if (worker == 0) {
      ::prctl(PR_SET_PDEATHSIG, SIGKILL);
      if (::getppid() != guard) ::_exit(130);  // the guard died before it could be heard
      ::signal(SIGTERM, SIG_DFL);
      ::signal(SIGINT, SIG_DFL);
      return work();
    }
    at_work = worker;
    struct sigaction action {};
    action.sa_handler = hand_on;
    ::sigaction(SIGTERM, &action, nullptr);
    ::signal(SIGINT, SIG_IGN);  // the terminal tells the worker too
    const int status = wait_for(worker);
    at_work = 0;
    ::signal(SIGTERM, SIG_DFL);
    ::signal(SIGINT, SIG_DFL);
    if (WIFEXITED(status)) return WEXITSTATUS(status);
    const int number = WTERMSIG(status);
    if (std::find(kFatal.begin(), kFatal.end(), number) == kFatal.end() || beginning == kMostBeginnings) return 128 + number;
    again();
  }
}

}  // namespace papillote::run
