// What can follow what: a specimen is in one place at a time, and nothing that was recorded is ever lost.
#include "pipeline/store/movements.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/store/collection.h"

namespace papillote::store {
namespace {

using ::testing::HasSubstr;

class Movements : public ::testing::Test {
 protected:
  void SetUp() override {
    store_.emplace(opened(folder_.path()));
    keep(*store_, photograph("a.jpg", {envelope(1, box(10, 10, 80, 60)), envelope(2, box(210, 10, 80, 60))}, "7", "1"));
    id_ = ids_on(*store_, "a.jpg")[0];
  }

  // "" when recorded, otherwise the kind of the failure.
  std::string record(const std::string& kind, const std::string& where = "", bool corrects = false) {
    const auto done =
        record_movements(*store_, {{id_, kind, "me", fmt::format("2026-01-01T10:00:{:02}Z", ++second_), where, "", corrects}});
    if (!done.ok()) last_ = done.failure();
    return done.ok() ? "" : done.failure().kind;
  }

  TemporaryFolder folder_;
  std::optional<Store> store_;
  std::string id_;
  Failure last_;
  int second_ = 0;
};

TEST_F(Movements, FollowTheWholeWayToTheDrawer) {
  for (const char* kind : {"captured", "picked", "frozen", "relaxing", "on_board", "drying"})
    EXPECT_EQ(record(kind, "x"), "") << kind;
  EXPECT_EQ(record("housed", "drawer 12, tray 3"), "");
  EXPECT_EQ(whereabouts(*store_, id_)->where, "drawer 12, tray 3");
  EXPECT_EQ(movements_of(*store_, id_).size(), 7U);
}

TEST_F(Movements, PutNothingInTwoPlaces) {
  EXPECT_EQ(record("housed", "drawer 1"), "");
  EXPECT_EQ(record("housed", "drawer 2"), "impossible");
  EXPECT_THAT(last_.reason, HasSubstr("drawer 1"));
  EXPECT_EQ(record("housed", "drawer 1"), "already");
  EXPECT_EQ(record("picked"), "");
  EXPECT_EQ(record("picked", "elsewhere"), "impossible");
  EXPECT_EQ(record("housed", "drawer 2"), "");
  EXPECT_EQ(record("picked"), "");
  EXPECT_EQ(record("relaxing"), "");
  EXPECT_EQ(record("on_board", "board 1"), "");
  EXPECT_EQ(record("on_board", "board 2"), "impossible");
  EXPECT_EQ(record("relaxing"), "impossible");
  EXPECT_EQ(record("picked"), "");  // taken off
  EXPECT_EQ(record("on_board", "board 2"), "");
}

TEST_F(Movements, RefuseWhatCannotBe) {
  EXPECT_EQ(record("returned"), "impossible");  // was never taken
  EXPECT_EQ(record("drying"), "impossible");
  EXPECT_EQ(record("on_board"), "impossible");  // dry
  EXPECT_EQ(record("found"), "impossible");
  EXPECT_EQ(record("housed"), "no_place");
  EXPECT_EQ(record("picked"), "");
  EXPECT_EQ(record("relaxing"), "");
  EXPECT_EQ(record("returned"), "impossible");  // damp
  EXPECT_EQ(movements_of(*store_, id_).size(), 2U);
}

TEST_F(Movements, LetWhatIsMissingBeFoundFirst) {
  EXPECT_EQ(record("missing"), "");
  for (const std::string_view kind : kMovementKinds)
    if (kind != "found" && kind != "missing") {
      EXPECT_EQ(record(std::string(kind), "x"), "impossible") << kind;
    }
  EXPECT_EQ(record("missing"), "already");
  EXPECT_EQ(record("found", "under the bench"), "");
  EXPECT_EQ(record("returned"), "");
}

TEST_F(Movements, AreSetRightByAnotherAndNeverRewritten) {
  EXPECT_EQ(record("housed", "drawer 3", true), "nothing_to_correct");
  EXPECT_EQ(record("picked"), "");
  EXPECT_EQ(record("housed", "drawer 1"), "");
  EXPECT_EQ(record("housed", "drawer 1", true), "already");
  EXPECT_EQ(record("housed", "drawer 2", true), "");
  EXPECT_EQ(record("housed", "drawer 4", true), "");
  const auto history = movements_of(*store_, id_);
  ASSERT_EQ(history.size(), 4U);
  EXPECT_EQ(history[1].where, "drawer 1");
  EXPECT_EQ(history[3].note, "corrects housed of 2026-01-01T10:00:05Z");
  const auto held = holding(history);
  ASSERT_EQ(held.size(), 2U);
  EXPECT_EQ(held[1].where, "drawer 4");
  EXPECT_EQ(record("picked", "", true), "");  // it was never housed: still in hand
  EXPECT_EQ(record("relaxing"), "");
}

TEST_F(Movements, ScannedOnTheWrongEnvelopeLeaveItInItsTin) {
  EXPECT_EQ(record("frozen", "freezer"), "");
  EXPECT_EQ(record("returned", "", true), "");
  EXPECT_TRUE(in_its_tin(whereabouts(*store_, id_)));
  EXPECT_EQ(record("picked"), "");
}

TEST_F(Movements, MayNotPretendToCorrect) {
  const auto done =
      record_movements(*store_, {{id_, "picked", "me", "2026-01-01T10:00:00Z", "", "corrects housed of yesterday"}});
  ASSERT_FALSE(done.ok());
  EXPECT_EQ(done.failure().kind, "unclear_note");
}

TEST_F(Movements, OfTwoPeopleWhoScanAtOnceOneIsRefused) {
  Store other = opened(folder_.path(), Access::desk);
  ASSERT_TRUE(record_movements(other, {{id_, "picked", "Ada", "2026-01-01T10:00:00Z", "", ""}}).ok());
  EXPECT_EQ(record("picked"), "impossible");
  EXPECT_THAT(last_.reason, HasSubstr("Ada"));
}

TEST_F(Movements, TellEveryEnvelopeWithItsHistory) {
  EXPECT_EQ(record("picked"), "");
  std::vector<Followed> all;
  for_each_followed(*store_, [&](const Followed& one) { all.push_back(one); });
  ASSERT_EQ(all.size(), 2U);
  EXPECT_EQ(all[0].id, id_);
  EXPECT_EQ(all[0].tin, "7");
  EXPECT_EQ(all[0].history.size(), 1U);
  EXPECT_TRUE(all[1].history.empty());
}

}  // namespace
}  // namespace papillote::store
