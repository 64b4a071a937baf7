// SIGKILL at random moments, resumed until it is through: the same export, byte for byte, as an undisturbed run.
#include <signal.h>
#include <sys/wait.h>

#include <chrono>
#include <random>
#include <thread>

#include <gtest/gtest.h>

#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

TEST(Kill, LeavesTheSameIndexAsAnUndisturbedRun) {
  const Scratch scratch;
  small_photographs(scratch / "photographs", 4, 3);
  const std::vector<std::string> options{"--jobs", "2", "--px-per-mm", "5"};
  const auto process = [&](const std::string& collection) {
    std::vector<std::string> words{"process", scratch / "photographs", "--collection", scratch / collection};
    words.insert(words.end(), options.begin(), options.end());
    return words;
  };
  const auto begun = std::chrono::steady_clock::now();
  const Ended whole = run(process("undisturbed"));
  const std::chrono::duration<double> one_run = std::chrono::steady_clock::now() - begun;
  ASSERT_TRUE(whole.code == 0 || whole.code == 3) << whole.err;
  const Ended expected = run({"export", "json", "--collection", scratch / "undisturbed"});
  ASSERT_EQ(expected.code, 0) << expected.err;
  ASSERT_NE(expected.out.find("\"polygon_px\""), std::string::npos) << "no envelope at all: this test would prove nothing";

  std::mt19937 random(20260101);
  std::uniform_real_distribution<double> moment(0, 0.6 * one_run.count());
  int killed = 0;
  for (int attempt = 0; attempt < 12; ++attempt) {
    const pid_t batch = start(process("killed"));
    std::this_thread::sleep_for(std::chrono::duration<double>(moment(random)));
    kill(batch, SIGKILL);
    int status = 0;
    waitpid(batch, &status, 0);
    if (WIFSIGNALED(status)) ++killed;
    if (WIFEXITED(status)) break;  // it was through before the signal
  }
  ASSERT_GT(killed, 0);
  const Ended resumed = run(process("killed"));
  EXPECT_EQ(resumed.code, whole.code) << resumed.err;
  const Ended after = run({"export", "json", "--collection", scratch / "killed"});
  EXPECT_EQ(after.out == expected.out, true) << "after " << killed << " kills the export differs from the undisturbed one";
}

}  // namespace
}  // namespace papillote::cli
