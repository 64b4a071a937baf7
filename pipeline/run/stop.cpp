#include "pipeline/run/stop.h"

#include <signal.h>
#include <unistd.h>

namespace papillote::run {
namespace {

std::atomic<bool> stop_asked{false};

void on_stop(int) {
  if (stop_asked.exchange(true)) ::_exit(130);
}

}  // namespace

StopSignal::StopSignal() {
  stop_asked = false;
  struct sigaction action {};
  action.sa_handler = on_stop;
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
}

StopSignal::~StopSignal() {
  ::signal(SIGINT, SIG_DFL);
  ::signal(SIGTERM, SIG_DFL);
}

const std::atomic<bool>& StopSignal::asked() const { return stop_asked; }

}  // namespace papillote::run
