#include "pipeline/run/progress.h"

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>

namespace papillote::run {
namespace {

using Clock = std::chrono::steady_clock;

std::string duration_words(double seconds) {
  if (seconds < 90) return fmt::format("{:.0f} s", seconds);
  if (seconds < 5400) return fmt::format("{:.0f} min", seconds / 60);
  return fmt::format("{:.1f} h", seconds / 3600);
}

class StreamProgress : public Progress {
 public:
  explicit StreamProgress(std::FILE* stream) : stream_(stream), terminal_(isatty(fileno(stream)) == 1) {}

  void begin(int photographs) override {
    all_ = photographs;
    begun_ = Clock::now();
  }

  void photograph(const std::string& path, Ending ending, const Failure* failure) override {
    ++done_;
    if (ending == Ending::done) ++worked_;
    if (ending == Ending::failed) ++failed_;
    if (failure != nullptr) {
      const bool named = failure->reason.find(path) != std::string::npos;
      line(fmt::format("{}{} {}", named ? "" : path + ": ", failure->reason, failure->remedy));
    }
    draw();
  }

  void remark(const std::string& sentence) override {
    line(sentence);
    draw();
  }

  void end() override {
    if (terminal_) std::fputs("\r\033[K", stream_);
    std::fflush(stream_);
  }

 private:
  void line(const std::string& text) {
    std::fputs(fmt::format("{}{}\n", terminal_ ? "\r\033[K" : "", text).c_str(), stream_);
    std::fflush(stream_);
  }

  void draw() {
    if (!terminal_) return;
    const double passed = std::chrono::duration<double>(Clock::now() - begun_).count();
    // Known photographs cost next to nothing: only those worked on tell how long the rest takes.
    const std::string left =
        worked_ == 0 || done_ == all_ ? "" : fmt::format(", about {} left", duration_words(passed / worked_ * (all_ - done_)));
    const std::string failed = failed_ == 0 ? "" : fmt::format(", {} failed", failed_);
    std::fputs(fmt::format("\r\033[K{} of {} photographs{}{}", done_, all_, failed, left).c_str(), stream_);
    std::fflush(stream_);
  }

  std::FILE* stream_;
  bool terminal_;
  int all_ = 0, done_ = 0, worked_ = 0, failed_ = 0;
  Clock::time_point begun_;
};

class NoProgress : public Progress {
 public:
  void begin(int) override {}
  void photograph(const std::string&, Ending, const Failure*) override {}
  void remark(const std::string&) override {}
  void end() override {}
};

}  // namespace

std::unique_ptr<Progress> progress_on(std::FILE* stream) { return std::make_unique<StreamProgress>(stream); }
std::unique_ptr<Progress> no_progress() { return std::make_unique<NoProgress>(); }

}  // namespace papillote::run
