// SIGKILL, SIGTERM and SIGINT at random moments: nothing that was answered for is lost, nothing stands half done, and the same command
// goes on to the same index, byte for byte.
//
// The moments are spread evenly over the length of an undisturbed run. Other moments: PAPILLOTE_SEED=number.
#include <signal.h>
#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdlib>
#include <iostream>
#include <map>
#include <numeric>
#include <optional>
#include <random>
#include <sstream>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/record/check_character.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/sqlite.h"
#include "tests/cli/program.h"
#include "tests/store/collection.h"

namespace papillote::cli {
namespace {

namespace fs = std::filesystem;
using Words = std::vector<std::string>;

unsigned seed() {
  const char* given = std::getenv("PAPILLOTE_SEED");
  return given != nullptr ? static_cast<unsigned>(std::strtoul(given, nullptr, 10)) : 20260101;
}

// One moment in each of `slices` equal parts of a run, in random order, and then again. The first run is timed on a machine that may be
// busy: whenever a run is through before its moment, the length comes half way down to it.
class Moments {
 public:
  Moments(double run_s, int slices, unsigned seed) : random_(seed), run_s_(run_s), order_(static_cast<std::size_t>(slices)) {}

  std::chrono::duration<double> next() {
    if (turn_ % order_.size() == 0) {
      std::iota(order_.begin(), order_.end(), 0);
      std::shuffle(order_.begin(), order_.end(), random_);
    }
    const double slice = order_[turn_++ % order_.size()] + std::uniform_real_distribution<double>(0, 1)(random_);
    latest_s_ = run_s_ * slice / static_cast<double>(order_.size());
    return std::chrono::duration<double>(latest_s_);
  }
  void was_through() { run_s_ = (run_s_ + latest_s_) / 2; }

 private:
  std::mt19937 random_;
  double run_s_, latest_s_ = 0;
  std::vector<int> order_;
  std::size_t turn_ = 0;
};

// A whole undisturbed run and how long it took.
double timed(const Words& command, Ended& ended) {
  const auto begun = std::chrono::steady_clock::now();
  ended = run(command);
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

enum class Blow {
  kill,         // SIGKILL, as the system does when memory is short
  kill_all,     // the same to every process of the run, as a power cut does
  ask,          // SIGTERM, as a shutdown does
  ask_by_hand,  // SIGINT to the terminal's group, as Ctrl-C does
};

// Its exit code, or 128 + the signal that ended it; nothing when it was through before the blow.
std::optional<int> struck(const Words& command, Moments& moments, Blow blow, const fs::path& output = "/dev/null") {
  if (output != "/dev/null") write_file(output, "");
  const pid_t child = start(command, output);
  std::this_thread::sleep_for(moments.next());
  siginfo_t ended{};
  waitid(P_PID, static_cast<id_t>(child), &ended, WEXITED | WNOHANG | WNOWAIT);
  const bool group = blow == Blow::kill_all || blow == Blow::ask_by_hand;
  ::kill(group ? -child : child, blow == Blow::ask ? SIGTERM : blow == Blow::ask_by_hand ? SIGINT : SIGKILL);
  int status = 0;
  waitpid(child, &status, 0);
  if (ended.si_pid == child) {
    moments.was_through();
    return std::nullopt;
  }
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

std::map<std::string, std::string> files_below(const fs::path& folder) {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file()) files[entry.path().lexically_relative(folder).string()] = read_file(entry.path());
  return files;
}

// As every outside program sees the collection, published on one and the same day.
std::map<std::string, std::string> exports_of(const fs::path& collection) {
  std::map<std::string, std::string> all;
  write_file(collection / "about.json", R"({"published": "2026-05-01"})");
  for (const char* format : {"json", "csv", "dwca"}) {
    const Ended written = run({"export", format, "--collection", collection});
    EXPECT_EQ(written.code, 0) << written.err;
    all[format] = written.out;
  }
  return all;
}

void expect_same(const std::map<std::string, std::string>& now, const std::map<std::string, std::string>& expected,
                 const std::string& when) {
  for (const auto& [name, bytes] : expected) {
    ASSERT_TRUE(now.contains(name)) << name << " is not there, " << when;
    EXPECT_TRUE(now.at(name) == bytes) << name << " differs, " << when;
  }
  for (const auto& [name, bytes] : now) EXPECT_TRUE(expected.contains(name)) << name << " was left over, " << when;
}

// --- A batch -------------------------------------------------------------------------------------------------------

// How many answers lie on the disk; none where there is no store yet.
std::int64_t answers_in(const fs::path& collection) {
  auto opened = store::Store::open(collection, store::Access::read);
  if (!opened.ok()) return 0;
  store::Store store = std::move(opened).value();
  store::Query row(store, "SELECT count(*) FROM result");
  return row.next() ? row.integer(0) : 0;
}

// Batches struck over and over until `blows` have fallen, each of a kind in turn.
void strike_batches(int blows, const std::vector<Blow>& kinds, const char* jobs) {
  const Scratch scratch;
  small_photographs(scratch / "photographs", 2, 8);
  const auto process = [&](const std::string& collection) {
    return Words{"process", scratch / "photographs", "--collection", scratch / collection, "--jobs", jobs, "--px-per-mm", "2.5"};
  };
  Ended whole;
  const double run_s = timed(process("undisturbed"), whole);
  ASSERT_TRUE(whole.code == 0 || whole.code == 3) << whole.err;
  const auto expected = exports_of(scratch / "undisturbed");
  ASSERT_NE(expected.at("json").find("\"polygon_px\""), std::string::npos) << "no envelope at all: this test would prove nothing";
  const std::int64_t all_answers = answers_in(scratch / "undisturbed");

  constexpr int kForOneCollection = 8;
  Moments moments(run_s, kForOneCollection, seed());
  std::map<std::string, int> fell;  // phase of the batch: blows
  int fallen = 0;
  for (int turn = 0; fallen < blows; ++turn) {
    ASSERT_LT(turn, 2 * blows) << "most batches were through before they were struck: this test would prove nothing";
    const std::string name = "struck " + std::to_string(turn);
    for (int i = 0; i < kForOneCollection && fallen < blows; ++i) {
      const auto code = struck(process(name), moments, kinds[static_cast<std::size_t>(fallen) % kinds.size()]);
      if (!code) break;
      ++fallen;
      const std::int64_t answers = answers_in(scratch / name);
      ++fell[answers == 0 ? "before the first answer" : answers < all_answers ? "between the answers" : "after the last answer"];
      if (*code == whole.code) break;  // asked to stop, it brought the last photographs in hand to their end
    }
    const Ended resumed = run(process(name));
    EXPECT_EQ(resumed.code, whole.code) << resumed.err;
    expect_same(exports_of(scratch / name), expected, "seed " + std::to_string(seed()) + ", " + name);
    fs::remove_all(scratch / name);
  }
  std::cout << "seed " << seed() << ", a run takes " << run_s << " s:";
  for (const auto& [phase, count] : fell) std::cout << "  " << count << ' ' << phase;
  std::cout << '\n';
  EXPECT_GT(fell["between the answers"], 0) << "never in the midst of it: this test would prove nothing";
}

TEST(Kill, ABatchThatIsKilledGoesOnToTheSameIndex) { strike_batches(40, {Blow::kill, Blow::kill_all}, "2"); }

TEST(Kill, ABatchThatIsAskedToStopGoesOnToTheSameIndex) { strike_batches(30, {Blow::ask, Blow::ask_by_hand}, "1"); }

// --- Decisions and movements ---------------------------------------------------------------------------------------

constexpr std::array kBlows{Blow::kill, Blow::kill_all, Blow::ask, Blow::ask_by_hand};
constexpr int kOnASheet = 40;
constexpr int kScans = 300;

std::string numbered(int n) {
  const std::string number = fmt::format("PAP{:06}", n);
  return number + check_character(number).value();
}

void invented_sheet(const fs::path& collection, int envelopes) {
  store::Store store = store::opened(collection);
  std::vector<IndexRecord> records;
  for (int n = 0; n < envelopes; ++n)
    records.push_back(store::envelope(n, store::box(100.0 * n, 10, 80, 60), fmt::format("Simla {}", n), numbered(n)));
  store::keep(store, store::photograph("a.jpg", records, "7", "1"));
}

TEST(Kill, ATableOfCorrectionsIsTakenWholeOrNotAtAll) {
  const Scratch scratch;
  std::string table = "catalogue_number,term,value,was\n";
  for (int n = 0; n < kOnASheet; ++n) table += fmt::format("{},collector,Collector {},(none)\n", numbered(n), n);
  write_file(scratch / "table.csv", table);
  const auto correct = [&](const std::string& collection) {
    return Words{"correct", scratch / "table.csv", "--who", "N. Example", "--collection", scratch / collection};
  };
  invented_sheet(scratch / "undisturbed", kOnASheet);
  Ended whole;
  const double run_s = timed(correct("undisturbed"), whole);
  ASSERT_EQ(whole.code, 0) << whole.err;
  const auto expected = exports_of(scratch / "undisturbed");

  Moments moments(run_s, 10, seed());
  int fallen = 0, undone = 0;
  for (int turn = 0; fallen < 30; ++turn) {
    ASSERT_LT(turn, 300);
    const std::string name = "struck " + std::to_string(turn);
    invented_sheet(scratch / name, kOnASheet);
    const auto code = struck(correct(name), moments, kBlows[static_cast<std::size_t>(fallen) % kBlows.size()]);
    fallen += code.has_value();
    int decided = 0;
    {
      store::Store store = store::opened(scratch / name, store::Access::desk);
      for (const std::string& id : store::ids_on(store, "a.jpg")) decided += static_cast<int>(store::history_of(store, id).size());
    }
    EXPECT_TRUE(decided == 0 || decided == kOnASheet) << decided << " of " << kOnASheet << ", seed " << seed();
    EXPECT_TRUE(code.value_or(0) != 0 || decided == kOnASheet) << "it said that all was well";
    if (decided == 0) {
      ++undone;
      EXPECT_EQ(run(correct(name)).code, 0);
    }
    if (turn % 5 == 0) expect_same(exports_of(scratch / name), expected, name);
    fs::remove_all(scratch / name);
  }
  std::cout << "seed " << seed() << ", a run takes " << run_s << " s: " << undone << " of " << fallen << " before the table was on the disk\n";
}

TEST(Kill, EveryScanThatWasAnsweredIsOnTheDiskAndNoneTwice) {
  const Scratch scratch;
  const auto move = [&](const std::string& collection) {
    Words words{"move", "housed"};
    for (int n = 0; n < kScans; ++n) words.push_back(numbered(n));
    words.insert(words.end(), {"--where", "drawer 12", "--who", "N. Example", "--collection", scratch / collection});
    return words;
  };
  invented_sheet(scratch / "undisturbed", kScans);
  Ended whole;
  const double run_s = timed(move("undisturbed"), whole);
  ASSERT_EQ(whole.code, 0) << whole.err;

  Moments moments(run_s, 10, seed());
  int fallen = 0, amid = 0;
  for (int turn = 0; fallen < 40; ++turn) {
    ASSERT_LT(turn, 400);
    const std::string name = "struck " + std::to_string(turn);
    invented_sheet(scratch / name, kScans);
    fallen += struck(move(name), moments, kBlows[static_cast<std::size_t>(fallen) % kBlows.size()], scratch / "said").has_value();
    int answered = 0;
    {
      store::Store store = store::opened(scratch / name, store::Access::read);
      std::istringstream lines(read_file(scratch / "said"));
      for (std::string line; std::getline(lines, line); ++answered)
        EXPECT_EQ(store::movements_of(store, line.substr(0, line.find(' '))).size(), 1U) << line;
    }
    amid += answered > 0 && answered < kScans;
    EXPECT_THAT(run(move(name)).code, testing::AnyOf(3, answered == 0 ? 0 : 3)) << "those that are housed already are refused";
    store::Store store = store::opened(scratch / name, store::Access::desk);
    for (const std::string& id : store::ids_on(store, "a.jpg")) EXPECT_EQ(store::movements_of(store, id).size(), 1U) << id;
    fs::remove_all(scratch / name);
  }
  std::cout << "seed " << seed() << ", a run takes " << run_s << " s: " << amid << " of " << fallen << " in the midst of it\n";
  EXPECT_GT(amid, 0) << "never in the midst of it: this test would prove nothing";
}

// --- Archive, bag, backup ------------------------------------------------------------------------------------------

TEST(Kill, AnArchiveABagAndABackupGoOnToTheSameFiles) {
  const Scratch scratch;
  small_photographs(scratch / "photographs", 2, 8);
  const Ended batch = run({"process", scratch / "photographs", "--collection", scratch / "c", "--px-per-mm", "2.5"});
  ASSERT_TRUE(batch.code == 0 || batch.code == 3) << batch.err;
  write_file(scratch / "c/about.json", R"({"published": "2026-05-01"})");
  for (const char* command : {"archive", "bag", "backup"}) {
    const auto into = [&](const std::string& name) {
      return Words{command, "--collection", scratch / "c", "--output", scratch / fmt::format("{} {}", command, name)};
    };
    Ended whole;
    const double run_s = timed(into("undisturbed"), whole);
    ASSERT_EQ(whole.code, 0) << whole.err;
    const auto expected = files_below(scratch / fmt::format("{} undisturbed", command));
    ASSERT_GT(expected.size(), 1U);
    Moments moments(run_s, 10, seed());
    int fallen = 0, amid = 0;
    for (int turn = 0; fallen < 20; ++turn) {
      ASSERT_LT(turn, 200);
      const std::string name = std::to_string(turn);
      const fs::path folder = scratch / fmt::format("{} {}", command, name);
      const auto code = struck(into(name), moments, kBlows[static_cast<std::size_t>(fallen) % kBlows.size()]);
      fallen += code.has_value();
      amid += code.value_or(0) != 0 && (fs::exists(folder) || fs::exists(scratch / fmt::format(".{} {}.papillote-backup", command, name)));
      const bool is_whole = std::string_view(command) == "backup" && fs::exists(folder) && !fs::is_empty(folder);
      if (!is_whole) {
        const Ended again = run(into(name));
        EXPECT_EQ(again.code, 0) << again.err;
      }
      expect_same(files_below(folder), expected, fmt::format("{} {}, seed {}", command, name, seed()));
      fs::remove_all(folder);
    }
    EXPECT_FALSE(std::any_of(fs::directory_iterator(scratch / ""), {}, [](const auto& entry) { return entry.path().filename().string().starts_with('.'); }))
        << "something was left over";
    std::cout << command << ", seed " << seed() << ", a run takes " << run_s << " s: " << amid << " of " << fallen << " in the midst of it\n";
    EXPECT_GT(amid, 0) << "never in the midst of it: this test would prove nothing";
  }
}

}  // namespace
}  // namespace papillote::cli
