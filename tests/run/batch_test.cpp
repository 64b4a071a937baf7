// Batches with made-up stages: failures, crashes, kills, stops, two at once.
#include "pipeline/run/batch.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <mutex>
#include <stdexcept>
#include <thread>
#include <vector>

#include "pipeline/run/folder.h"
#include "pipeline/run/guard.h"
#include "pipeline/run/stop.h"
#include "tests/run/files.h"

namespace papillote::run {
namespace {

using ::testing::ElementsAre;

// One envelope per photograph, whose text is the file's; a file that says "fail" fails.
store::Outcome plain_line(Photograph& photograph, Step& step) {
  const auto read = [&](std::span<const std::byte> bytes) -> Result<std::string> {
    const std::string words = text_of(bytes);
    if (words == "fail") return Failure{"reading", "no_text", photograph.path() + ": no text.", "Write something."};
    if (words == "throw") throw std::runtime_error("a stage threw");
    return words;
  };
  const auto text = step(Stage{"reading", 1}, NoOptions{}, read, photograph.file());
  store::Outcome outcome;
  if (const Failure* failure = text.root_failure())
    outcome.failure = *failure;
  else
    outcome.index.envelopes = {store::envelope(0, store::box(0, 0, 100, 100), *text)};
  return outcome;
}

// The same, after a stage that does `harm` to the program when it meets the file that says `words`.
template <class Harm>
Line harmful_line(const std::string& words, Harm harm) {
  return [=](Photograph& photograph, Step& step) {
    const auto look = [&](std::span<const std::byte> bytes) {
      if (text_of(bytes) == words) harm();
      return Result<int>(1);
    };
    (void)step(Stage{"calibration", 1}, NoOptions{}, look, photograph.file());
    return plain_line(photograph, step);
  };
}

// The exit code of `work` in a process of its own.
template <class Work>
int ended_with(Work work) {
  const pid_t child = ::fork();
  if (child == 0) ::_exit(work());
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

class Batches : public ::testing::Test {
 protected:
  void photographs(int count) {
    for (int i = 0; i < count; ++i) photograph(fmt::format("{:03}.jpg", i), fmt::format("text of {}", i));
  }
  void photograph(const std::string& name, const std::string& bytes) {
    write_file(folder_.path() / "photographs" / name, bytes);
  }

  [[nodiscard]] BatchOptions options(int jobs = 2) const {
    BatchOptions o;
    o.photographs = folder_.path() / "photographs";
    o.collection = folder_.path() / "collection";
    o.jobs = jobs;
    return o;
  }

  Result<BatchTotals> run(const Line& line, const BatchOptions& asked) {
    const auto progress = no_progress();
    return run_batch(
        asked, [&] { return Result<Line>(line); }, *progress, stop_);
  }
  Result<BatchTotals> run(const Line& line = plain_line) { return run(line, options()); }

  // In a process of its own, which may die of it.
  int run_apart(const Line& line) {
    const pid_t child = ::fork();
    if (child < 0) throw std::runtime_error("cannot fork");
    if (child == 0) ::_exit(run(line).ok() ? 0 : 1);
    int status = 0;
    ::waitpid(child, &status, 0);
    return status;
  }

  store::Store reader() { return store::opened(folder_.path() / "collection", store::Access::read); }
  std::vector<std::string> texts() {
    std::vector<std::string> all;
    store::Store store = reader();
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& p) {
      for (const IndexRecord& record : p.index.envelopes) all.push_back(record.annotation.text);
    });
    return all;
  }
  std::vector<std::string> failed_kinds() {
    std::vector<std::string> kinds;
    store::Store store = reader();
    for (const store::StandingFailure& failure : store::standing_failures(store))
      kinds.push_back(failure.path + " " + failure.failure.kind);
    return kinds;
  }

  store::TemporaryFolder folder_;
  std::atomic<bool> stop_{false};
};

TEST_F(Batches, DoNothingTwice) {
  photographs(20);
  const auto first = run();
  ASSERT_TRUE(first.ok()) << first.failure().reason;
  EXPECT_EQ(first->done, 20);
  EXPECT_EQ(texts().size(), 20U);
  const auto second = run([](Photograph& one, Step& step) {
    store::Outcome outcome = plain_line(one, step);
    EXPECT_TRUE(step.as_before());
    return outcome;
  });
  EXPECT_EQ(second->known, 20);
  EXPECT_EQ(second->done, 0);
  photograph("005.jpg", "another text");
  EXPECT_EQ(run()->done, 1);
  EXPECT_EQ(texts()[5], "another text");
}

TEST_F(Batches, GoOnPastFailures) {
  photographs(6);
  photograph("002.jpg", "fail");
  photograph("003.jpg", "throw");
  const auto totals = run([](Photograph& one, Step& step) {
    store::Outcome outcome = plain_line(one, step);
    if (one.path() == "004.jpg") throw std::logic_error("the line threw");
    return outcome;
  });
  ASSERT_TRUE(totals.ok());
  EXPECT_EQ(totals->failed, 3);
  EXPECT_THAT(failed_kinds(), ElementsAre("002.jpg no_text", "003.jpg internal", "004.jpg internal"));
  EXPECT_EQ(texts().size(), 3U);
}

TEST_F(Batches, PassOverWhatCrashesTheProgramTwice) {
  photographs(12);
  const Line crashing = harmful_line("text of 7", [] { ::raise(SIGSEGV); });
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_EQ(run_apart(crashing), 0) << "the third batch goes through";
  EXPECT_THAT(failed_kinds(), ElementsAre("007.jpg crashed"));
  EXPECT_EQ(texts().size(), 11U);
  EXPECT_EQ(run_apart(crashing), 0);
  photograph("007.jpg", "a new photograph");
  EXPECT_EQ(run_apart(plain_line), 0) << "other bytes deserve another try";
  EXPECT_EQ(texts().size(), 12U);
  EXPECT_TRUE(failed_kinds().empty());
}

TEST_F(Batches, NoteACrashByAbort) {
  photographs(3);
  const Line crashing = harmful_line("text of 1", [] { ::abort(); });
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_EQ(run_apart(crashing), 0);
  EXPECT_THAT(failed_kinds(), ElementsAre("001.jpg crashed"));
}

// Each call takes a page of the stack, which ends long before the calls do.
int call_too_deep(int n) {
  if (n == 1'000'000) return 0;
  volatile char room[4096] = {};
  room[n % 4096] = 1;
  return call_too_deep(n + 1) + room[0];
}

TEST_F(Batches, NoteACrashByAStackThatOverflows) {
  photographs(3);
  const Line crashing = harmful_line("text of 1", [] { (void)call_too_deep(0); });
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_TRUE(WIFSIGNALED(run_apart(crashing)));
  EXPECT_EQ(run_apart(crashing), 0);
  EXPECT_THAT(failed_kinds(), ElementsAre("001.jpg crashed"));
}

// A loop without end inside a library: the watchdog ends it, the guard goes on, and the photograph stands failed.
TEST_F(Batches, GoOnPastCrashesAndEndlessLoopsUnderTheGuard) {
  photographs(8);
  const Line harmful = [](Photograph& photograph, Step& step) {
    if (photograph.path() == "002.jpg") ::raise(SIGSEGV);
    if (photograph.path() == "005.jpg")
      for (volatile bool forever = true; forever;) continue;
    return plain_line(photograph, step);
  };
  const pid_t child = ::fork();
  if (child == 0) {
    BatchOptions patient = options();
    patient.patience_s = 0.5;
    ::_exit(guarded([&] { return run(harmful, patient).ok() ? 0 : 1; }, [] {}));
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  EXPECT_EQ(status, 0) << "one command, to its end";
  EXPECT_THAT(failed_kinds(), ElementsAre("002.jpg crashed", "005.jpg crashed"));
  EXPECT_EQ(texts().size(), 6U);
}

TEST(Guard, HandsOnExitCodesSignalsAndItsOwnEnd) {
  EXPECT_EQ(ended_with([] { return guarded([] { return 3; }, [] {}); }), 3);
  EXPECT_EQ(ended_with([] { return guarded([] { ::raise(SIGKILL); return 0; }, [] {}); }), 128 + SIGKILL) << "an end from outside is not tried again";
  const pid_t guard = ::fork();
  if (guard == 0) ::_exit(guarded([] {
    const StopSignal stop;
    while (!stop.asked()) std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return 130;
  }, [] {}));
  std::this_thread::sleep_for(std::chrono::milliseconds(300));
  ::kill(guard, SIGTERM);
  int status = 0;
  ::waitpid(guard, &status, 0);
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 130);
}

TEST_F(Batches, BlameNoPhotographForAKill) {
  photographs(8);
  const Line killed = harmful_line("text of 3", [] { ::raise(SIGKILL); });
  for (int i = 0; i < 5; ++i) EXPECT_TRUE(WIFSIGNALED(run_apart(killed)));
  // What was left in hand too often goes last: the others are through by now.
  EXPECT_EQ(texts().size(), 7U);
  EXPECT_EQ(run()->failed, 0);
  EXPECT_EQ(texts().size(), 8U);
}

TEST_F(Batches, TryWhatWasLeftInHandFirst) {
  photographs(8);
  ASSERT_TRUE(WIFSIGNALED(run_apart(harmful_line("text of 6", [] { ::raise(SIGKILL); }))));
  std::mutex mutex;
  std::vector<std::string> order;
  ASSERT_TRUE(run([&](Photograph& one, Step& step) {
                {
                  const std::lock_guard lock(mutex);
                  order.push_back(one.path());
                }
                return plain_line(one, step);
              }).ok());
  EXPECT_LT(std::find(order.begin(), order.end(), "006.jpg") - order.begin(), 2) << "two workers, at most two in hand";
}

TEST_F(Batches, EndInOrderWhenAskedTo) {
  photographs(30);
  std::atomic<int> seen{0};
  const auto stopped = run([&](Photograph& one, Step& step) {
    if (++seen == 5) stop_ = true;
    return plain_line(one, step);
  });
  ASSERT_TRUE(stopped.ok());
  EXPECT_TRUE(stopped->stopped);
  EXPECT_LT(texts().size(), 10U);
  EXPECT_GE(texts().size(), 5U) << "what was in hand is finished and kept";
  stop_ = false;
  EXPECT_EQ(run()->failed, 0);
  EXPECT_EQ(texts().size(), 30U);
}

TEST(Signals, TheFirstAsksTheSecondEnds) {
  const pid_t child = ::fork();
  ASSERT_GE(child, 0);
  if (child == 0) {
    const StopSignal stop;
    ::raise(SIGTERM);
    if (!stop.asked()) ::_exit(1);
    ::raise(SIGINT);
    ::_exit(2);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  EXPECT_EQ(WEXITSTATUS(status), 130);
}

TEST_F(Batches, TwoOnOneCollectionAreOneTooMany) {
  photographs(2);
  const store::Store first = store::opened(folder_.path() / "collection");
  const auto second = run();
  ASSERT_FALSE(second.ok());
  EXPECT_EQ(second.failure().kind, "busy");
}

TEST_F(Batches, EndWhenTheEnginesCannotBeMade) {
  photographs(2);
  const auto progress = no_progress();
  const auto totals = run_batch(
      options(),
      [] {
        return Result<Line>(Failure{"models", "model_missing", "no model", "fetch it"});
      },
      *progress, stop_);
  ASSERT_FALSE(totals.ok());
  EXPECT_EQ(totals.failure().kind, "model_missing");
  EXPECT_TRUE(failed_kinds().empty()) << "nothing is held against the photographs";
}

TEST_F(Batches, KeepTheRowsOfAFileThatIsGoneOrOutOfReach) {
  photographs(3);
  ASSERT_TRUE(run().ok());
  const std::filesystem::path in = folder_.path() / "photographs";
  std::filesystem::remove(in / "001.jpg");
  std::filesystem::remove(in / "002.jpg");
  std::filesystem::create_symlink("nowhere", in / "002.jpg");
  EXPECT_EQ(run()->failed, 1);
  EXPECT_THAT(failed_kinds(), ElementsAre("002.jpg unreadable"));
  EXPECT_EQ(texts().size(), 3U);
  {
    store::Store store = reader();
    EXPECT_TRUE(store::find_photograph(store, "001.jpg")->missing);
  }
  std::filesystem::remove(in / "002.jpg");
  photographs(3);
  EXPECT_EQ(run()->failed, 0);
  EXPECT_TRUE(failed_kinds().empty());
  store::Store store = reader();
  EXPECT_FALSE(store::find_photograph(store, "001.jpg")->missing);
}

TEST_F(Batches, StayWithinTheBudgetOfMemory) {
  photographs(24);
  std::atomic<int> decoded{0};
  std::atomic<int> most{0};
  BatchOptions asked = options(6);
  asked.memory_megapixels = 50;  // two of 24 fit
  const auto totals = run(
      [&](Photograph& one, Step& step) {
        const bool huge = one.path() == "003.jpg";  // more than all there is: only alone
        one.reserve_megapixels(huge ? 400 : 24);
        const int now = decoded += huge ? 2 : 1;
        int before = most;
        while (before < now && !most.compare_exchange_weak(before, now)) {
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
        decoded -= huge ? 2 : 1;
        return plain_line(one, step);
      },
      asked);
  ASSERT_TRUE(totals.ok());
  EXPECT_EQ(totals->failed, 0);
  EXPECT_EQ(most, 2);
}

TEST_F(Batches, MovingPhotographsCostsNothing) {
  photographs(4);
  ASSERT_TRUE(run().ok());
  const std::filesystem::path in = folder_.path() / "photographs";
  std::filesystem::create_directories(in / "tin 7");
  for (const char* name : {"000.jpg", "001.jpg", "002.jpg", "003.jpg"}) std::filesystem::rename(in / name, in / "tin 7" / name);
  std::atomic<int> ran{0};
  const auto read = [&](std::span<const std::byte> bytes) {
    ++ran;
    return Result<std::string>(text_of(bytes));
  };
  ASSERT_TRUE(run([&](Photograph& one, Step& step) {
                store::Outcome outcome;
                outcome.index.envelopes = {
                    store::envelope(0, store::box(0, 0, 100, 100), *step(Stage{"reading", 1}, NoOptions{}, read, one.file()))};
                return outcome;
              }).ok());
  EXPECT_EQ(ran, 0);
  EXPECT_EQ(texts().size(), 4U) << "the old paths are gone from the index";
}

TEST(Folders, ListPhotographsAndSayWhatTheyPassOver) {
  const store::TemporaryFolder folder;
  for (const char* name : {"b/2.JPG", "a.jpeg", "a.png", "c.TIFF", "notes.txt", "no ending", ".hidden.jpg", ".trash/1.jpg",
                           "collection/thumb.jpg", "K\xf6ln.jpg" /* Latin-1 */, "Köln.jpg"})
    write_file(folder.path() / name, "x");
  const auto found = list_photographs(folder.path(), folder.path() / "collection");
  ASSERT_TRUE(found.ok());
  EXPECT_THAT(found->photographs, ElementsAre("Köln.jpg", "a.jpeg", "a.png", "b/2.JPG", "c.TIFF"));
  EXPECT_EQ(found->unreadable.size(), 1U);
  EXPECT_EQ(found->passed_over.at(".txt"), 1);
  EXPECT_EQ(list_photographs(folder.path() / "none", {}).failure().kind, "no_folder");
  EXPECT_TRUE(list_photographs(folder.path(), folder.path()).ok()) << "the collection may be the folder itself";
}

}  // namespace
}  // namespace papillote::run
