// Loaded before the program by clock_test: the time of day jumps with every look at it, a century ahead and back to before 1970. The
// clock that only counts up is left alone, as every kernel leaves it.
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#include <array>
#include <atomic>

namespace {

long jump() {
  static std::atomic<unsigned> looks{static_cast<unsigned>(getpid())};  // every run begins elsewhere
  constexpr long kYear_s = 31'556'952;
  constexpr std::array kJumps{100 * kYear_s, -60 * kYear_s, 0L, -3600L, 30 * kYear_s};
  return kJumps[looks++ % kJumps.size()];
}

}  // namespace

extern "C" {

int clock_gettime(clockid_t clock, timespec* now) {
  const long error = syscall(SYS_clock_gettime, clock, now);
  if (error == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE)) now->tv_sec += jump();
  return static_cast<int>(error);
}

time_t time(time_t* also) noexcept {
  timespec now{};
  clock_gettime(CLOCK_REALTIME, &now);
  if (also != nullptr) *also = now.tv_sec;
  return now.tv_sec;
}

int gettimeofday(timeval* now, void*) noexcept {
  timespec exact{};
  clock_gettime(CLOCK_REALTIME, &exact);
  *now = {exact.tv_sec, exact.tv_nsec / 1000};
  return 0;
}
}
