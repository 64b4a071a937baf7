// A clock that jumps a century ahead and back while the program works: nothing is lost, and what came later stays later.
#include <pty.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "pipeline/store/decisions.h"
#include "pipeline/store/movements.h"
#include "tests/cli/program.h"
#include "tests/store/collection.h"

namespace papillote::cli {
namespace {

using testing::AnyOf;
using testing::ContainsRegex;
using testing::HasSubstr;
using testing::Not;

class ClockJumps : public testing::Test {
 protected:
  ClockJumps() {
    setenv("LD_PRELOAD", PAPILLOTE_JUMPING_CLOCK, 1);
    setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 0);
  }
  ~ClockJumps() override { unsetenv("LD_PRELOAD"); }

  // What a person sees who runs it in a terminal.
  static std::string on_terminal(const std::vector<std::string>& arguments) {
    std::vector<std::string> words{PAPILLOTE_PROGRAM};
    words.insert(words.end(), arguments.begin(), arguments.end());
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    int terminal = -1;
    const pid_t child = forkpty(&terminal, nullptr, nullptr, nullptr);
    if (child == 0) {
      execv(argv[0], argv.data());
      _exit(127);
    }
    std::string seen;
    char part[4096];
    for (ssize_t got = 0; (got = read(terminal, part, sizeof part)) > 0;) seen.append(part, static_cast<std::size_t>(got));
    close(terminal);
    int status = 0;
    waitpid(child, &status, 0);
    EXPECT_TRUE(WIFEXITED(status) && (WEXITSTATUS(status) == 0 || WEXITSTATUS(status) == 3)) << seen;
    return seen;
  }

  Scratch scratch_;
};

TEST_F(ClockJumps, ABatchComesToTheSameIndexAndTellsNoNonsense) {
  small_photographs(scratch_ / "p", 3, 8);
  const auto process = [&](const std::string& collection) {
    return std::vector<std::string>{"process", scratch_ / "p", "--collection", scratch_ / collection, "--px-per-mm", "2.5", "--jobs", "1"};
  };
  const std::string seen = on_terminal(process("jumped"));
  EXPECT_THAT(seen, HasSubstr("3 of 3 photographs"));
  EXPECT_THAT(seen, ContainsRegex("about [0-9]+ s left")) << "minutes and hours would be a jump that was believed";
  EXPECT_THAT(seen, Not(ContainsRegex("-[0-9]")));
  EXPECT_THAT(run(process("jumped")).err, HasSubstr("0 worked on, 3 already known"));
  const std::string after = run({"export", "json", "--collection", scratch_ / "jumped"}).out;
  unsetenv("LD_PRELOAD");
  ASSERT_THAT(run(process("steady")).code, AnyOf(0, 3));
  EXPECT_TRUE(run({"export", "json", "--collection", scratch_ / "steady"}).out == after);
}

TEST_F(ClockJumps, WhatWasDecidedAndMovedLaterStaysLater) {
  const std::string collection = scratch_ / "c";
  std::string id;
  {
    store::Store store = store::opened(collection);
    store::keep(store, store::photograph("a.jpg", {store::envelope(1, store::box(10, 10, 80, 60), "Simla")}, "7", "1"));
    id = store::ids_on(store, "a.jpg").front();
  }
  const std::vector<std::string> names{"Eins", "Zwei", "Drei", "Vier"};
  for (const std::string& name : names) {
    write_file(scratch_ / "table.csv", "id,term,value\n" + id + ",collector," + name + "\n");
    ASSERT_EQ(run({"correct", scratch_ / "table.csv", "--who", "N. Example", "--collection", collection}).code, 0);
  }
  const std::vector<std::string> kinds{"picked", "relaxing", "on-board", "housed"};
  for (const std::string& kind : kinds)
    ASSERT_EQ(run({"move", kind, id, "--where", "drawer 3", "--who", "N. Example", "--collection", collection}).code, 0);
  unsetenv("LD_PRELOAD");

  store::Store store = store::opened(collection, store::Access::read);
  const auto decisions = store::history_of(store, id);
  ASSERT_EQ(decisions.size(), names.size());
  std::set<std::string> years;
  for (std::size_t i = 0; i < names.size(); ++i) {
    EXPECT_EQ(decisions[i].value, nlohmann::json(names[i]).dump());
    years.insert(decisions[i].when.substr(0, 4));
  }
  EXPECT_EQ(store::decisions_of(store, id).front().value, "\"Vier\"");
  const auto movements = store::movements_of(store, id);
  ASSERT_EQ(movements.size(), kinds.size());
  EXPECT_EQ(movements.back().kind, "housed");
  EXPECT_EQ(store::whereabouts(store, id)->kind, "housed");
  for (const auto& movement : movements) years.insert(movement.when.substr(0, 4));
  EXPECT_GT(years.size(), 1U) << "the clock did not jump: this test would prove nothing";
  const auto index = nlohmann::json::parse(run({"export", "json", "--collection", collection}).out);
  EXPECT_EQ(index.at("photographs").at(0).at("envelopes").at(0).at("collector"), "Vier");
  EXPECT_THAT(run({"whereabouts", id, "--collection", collection}).out, HasSubstr("housed, drawer 3"));
}

}  // namespace
}  // namespace papillote::cli
