// One envelope photographed twice is one record once a person says so, and two again when it is taken back.
#include "pipeline/store/sameness.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/search.h"
#include "tests/store/collection.h"

namespace papillote::store {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

std::vector<std::string> ids_found(Store& store, const std::string& words) {
  Question question;
  question.words = words;
  question.near_misses = false;
  std::vector<std::string> ids;
  for (const Hit& hit : search(store, question).hits) ids.push_back(hit.id);
  return ids;
}

class Again : public testing::Test {
 protected:
  Again() {
    keep(store_, first_);
    keep(store_, second_);
    old_ = ids_on(store_, "first.jpg");
    now_ = ids_on(store_, "second.jpg");
  }

  Result<Done> settle(const std::string& newer, const std::string& earlier, std::string_view verdict) {
    return settle_sameness(store_, {{newer, earlier, std::string(verdict), "A. Curator", "2026-11-26T10:00:00Z", "by eye"}});
  }
  std::string refusal(const std::string& newer, const std::string& earlier, std::string_view verdict) {
    const auto settled = settle(newer, earlier, verdict);
    return settled.ok() ? "" : settled.failure().kind;
  }

  // Everything that the store says, for before and after.
  std::string state() {
    std::string all;
    for (const char* path : {"first.jpg", "second.jpg"})
      for (const std::string& id : ids_on(store_, path)) all += id + " ";
    for (const std::string& id : {old_[0], old_[1], now_[0], now_[1]}) {
      all += fmt::format("{}:{} {} views, {} decisions, {} movements; ", id, current_id(store_, id).value(),
                         views_of(store_, id).size(), decisions_of(store_, id).size(), movements_of(store_, id).size());
    }
    all += fmt::format("{} envelopes", totals(store_).envelopes);
    return all;
  }

  TemporaryFolder folder_;
  Store store_ = opened(folder_.path());
  const PhotoIndex first_ = photograph(
      "first.jpg",
      {envelope(0, box(0, 0, 400, 300), "Digne 1904", "PAP-1"), envelope(1, box(500, 0, 400, 300), "Samoens 1911")}, "7", "1");
  const PhotoIndex second_ = photograph(
      "second.jpg", {envelope(0, box(50, 50, 400, 300), "Samoens 1911"), envelope(1, box(600, 0, 400, 300), "Diqne 1904")}, "7",
      "9");
  std::vector<std::string> old_, now_;
};

TEST_F(Again, ConfirmedItIsOneRecordUnderTheEarlierNames) {
  decide(store_, {now_[1], "collector", "\"A. Example\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  ASSERT_TRUE(record_movements(store_, {{now_[1], "picked", "me", "2026-01-02T10:00:00Z", "", "", false}}).ok());
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_EQ(current_id(store_, now_[1]), old_[0]);
  EXPECT_THAT(ids_on(store_, "second.jpg"), ElementsAre(now_[0], old_[0]));
  EXPECT_EQ(catalogue_number_of(store_, old_[0]), "PAP-1");
  EXPECT_THAT(views_of(store_, old_[0]), SizeIs(2));
  EXPECT_THAT(decisions_of(store_, old_[0]), SizeIs(1)) << "what was decided goes along";
  EXPECT_THAT(movements_of(store_, old_[0]), SizeIs(1));
  EXPECT_EQ(totals(store_).envelopes, 3) << "counted once";
  EXPECT_THAT(ids_found(store_, "1904"), ElementsAre(old_[0])) << "shown once";
  EXPECT_THAT(ids_found(store_, "diqne"), ElementsAre(old_[0])) << "by what the second photograph says too";
}

TEST_F(Again, ItLiesWhereItWasPhotographedLast) {
  PhotoIndex first = first_, second = second_;
  first.photo.taken = "2026-02-01T10:00:00";
  second.photo.taken = "2026-05-01T10:00:00";
  first.envelopes[0].annotation.text += ", with much more that could be read at that time";
  keep(store_, first);
  keep(store_, second);
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  const std::vector<Hit> hits = hits_of(store_, {old_[0]});
  ASSERT_THAT(hits, SizeIs(1));
  EXPECT_EQ(hits[0].sheet, "9");
  EXPECT_EQ(hits[0].photo, "second.jpg");
  EXPECT_THAT(ids_found(store_, "diqne"), ElementsAre(old_[0]));
  EXPECT_THAT(ids_found(store_, "time"), ElementsAre(old_[0])) << "what only the first says is found too";
}

TEST_F(Again, ABatchThatFindsTheEnvelopesAnewKeepsToIt) {
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  PhotoIndex moved = second_;
  for (IndexRecord& record : moved.envelopes)
    for (Point& p : record.outline.polygon_px) p.x += 4;
  keep(store_, moved);
  EXPECT_THAT(ids_on(store_, "second.jpg"), ElementsAre(now_[0], old_[0]));
}

TEST_F(Again, TakenBackEachHasItsOwnAgain) {
  decide(store_, {now_[1], "collector", "\"A. Example\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  decide(store_, {old_[0], "taxon", "\"Parnassius apollo\"", "me", "2026-01-01T11:00:00Z", "", std::nullopt});
  const std::string before = state();
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_NE(state(), before);
  ASSERT_TRUE(settle(now_[1], old_[0], kTakenBack).ok());
  EXPECT_EQ(state(), before);
  EXPECT_THAT(ids_found(store_, "1904"), testing::UnorderedElementsAre(old_[0], now_[1]));
  EXPECT_THAT(standing_sameness(store_), IsEmpty());
  EXPECT_THAT(sameness_history(store_), SizeIs(2)) << "nothing is forgotten";
}

TEST_F(Again, AThirdPhotographLeadsToTheFirstInWhateverOrderItIsConfirmed) {
  keep(store_, photograph("third.jpg", {envelope(0, box(0, 0, 400, 300), "Digne 1904")}, "7", "12"));
  const std::string third = ids_on(store_, "third.jpg")[0];
  ASSERT_TRUE(settle(third, now_[1], kSame).ok());
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_EQ(current_id(store_, third), old_[0]);
  EXPECT_THAT(views_of(store_, old_[0]), SizeIs(3));
  ASSERT_TRUE(settle(now_[1], old_[0], kTakenBack).ok());
  EXPECT_EQ(current_id(store_, third), now_[1]) << "that of the third still stands";
  EXPECT_THAT(views_of(store_, now_[1]), SizeIs(2));
  EXPECT_THAT(views_of(store_, old_[0]), SizeIs(1));
}

TEST_F(Again, ASlipOnTheSecondPhotographGivesTheFirstItsNumber) {
  PhotoIndex numbered = second_;
  numbered.envelopes[0].catalogue_number = "PAP-2";
  keep(store_, numbered);
  const std::string by_number = ids_on(store_, "second.jpg")[0];
  ASSERT_TRUE(settle(by_number, old_[1], kSame).ok());
  EXPECT_EQ(catalogue_number_of(store_, old_[1]), "PAP-2");
  EXPECT_EQ(id_of_catalogue_number(store_, "PAP-2"), old_[1]);
  EXPECT_EQ(current_id(store_, now_[0]), old_[1]) << "the id of its outline leads on";
  keep(store_, numbered);
  EXPECT_EQ(ids_on(store_, "second.jpg")[0], old_[1]);
  ASSERT_TRUE(settle(by_number, old_[1], kTakenBack).ok());
  EXPECT_EQ(id_of_catalogue_number(store_, "PAP-2"), by_number);
  EXPECT_EQ(current_id(store_, now_[0]), by_number);
  EXPECT_EQ(catalogue_number_of(store_, old_[1]), "");
}

TEST_F(Again, ABackPairedWhileItStoodGoesWithItsFront) {
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  const PhotoIndex back = photograph("back.jpg", {envelope(0, box(610, 0, 400, 300))}, "7", "9", "back");
  keep(store_, back);
  {
    Transaction transaction(store_);
    count_as(store_, back.photo.sha256, ids_on(store_, "back.jpg")[0], second_.photo.sha256, old_[0]);
    transaction.commit();
  }
  PhotoIndex paired = back;
  paired.envelopes[0].other_side = OtherSide{0.9, "by position"};
  keep(store_, paired);
  EXPECT_EQ(ids_on(store_, "back.jpg")[0], old_[0]);
  ASSERT_TRUE(settle(now_[1], old_[0], kTakenBack).ok());
  EXPECT_EQ(ids_on(store_, "back.jpg")[0], now_[1]);
}

TEST_F(Again, WhatCannotBeIsRefusedAndNothingRecorded) {
  const std::string before = state();
  EXPECT_EQ(refusal("00000000000", old_[0], kSame), "unknown_envelope");
  EXPECT_EQ(refusal(old_[1], old_[0], kSame), "on_one_photograph");
  EXPECT_EQ(refusal(old_[0], old_[0], kSame), "already");
  EXPECT_EQ(refusal(now_[1], old_[0], kTakenBack), "nothing_to_take_back");
  PhotoIndex numbered = second_;
  numbered.envelopes[1].catalogue_number = "PAP-9";
  keep(store_, numbered);
  EXPECT_EQ(refusal(now_[1], old_[0], kSame), "two_numbers");
  keep(store_, second_);
  // One that cannot be takes the others with it.
  const auto all = settle_sameness(store_, {{now_[0], old_[1], std::string(kSame), "me", "2026-11-26T10:00:00Z", ""},
                                            {old_[1], old_[0], std::string(kSame), "me", "2026-11-26T10:00:00Z", ""}});
  EXPECT_FALSE(all.ok());
  EXPECT_THAT(sameness_history(store_), IsEmpty());
  EXPECT_EQ(current_id(store_, now_[0]), now_[0]);
}

TEST_F(Again, RefutedItIsKeptAndMayStillBeConfirmed) {
  ASSERT_TRUE(settle(now_[0], old_[0], kOther).ok());
  EXPECT_EQ(current_id(store_, now_[0]), now_[0]);
  EXPECT_EQ(refusal(now_[0], old_[0], kOther), "already");
  ASSERT_THAT(standing_sameness(store_), SizeIs(1));
  ASSERT_TRUE(settle(now_[0], old_[0], kSame).ok());
  EXPECT_EQ(current_id(store_, now_[0]), old_[0]);
}

TEST_F(Again, AnObjectionLeavesEverythingAsItIs) {
  const auto settled = settle_sameness(store_, {{now_[1], old_[0], std::string(kSame), "me", "2026-11-26T10:00:00Z", ""}}, false,
                                       [] { return std::optional(Failure{"review", "conflict", "Somebody was here.", ""}); });
  ASSERT_FALSE(settled.ok());
  EXPECT_EQ(settled.failure().kind, "conflict");
  EXPECT_THAT(sameness_history(store_), IsEmpty());
}

TEST_F(Again, EachKeepsThePhotographsThatShowItUnderItsOwnId) {
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_THAT(photographs_under(store_, now_[1]), ElementsAre("second.jpg"));
  EXPECT_THAT(photographs_under(store_, old_[0]), ElementsAre("first.jpg"));
}

TEST_F(Again, WhatPeopleSayIsNotWhatThePhotographsSay) {
  const Digest before = state_of_photographs(store_);
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_EQ(state_of_photographs(store_), before);
  PhotoIndex moved = second_;
  moved.envelopes[0].annotation.text = "Samoens 1912";
  keep(store_, moved);
  EXPECT_NE(state_of_photographs(store_), before);
}

TEST_F(Again, ADecisionIsOfTheStateOfTheIndex) {
  const Digest before = state_of_index(store_);
  ASSERT_TRUE(settle(now_[1], old_[0], kSame).ok());
  EXPECT_NE(state_of_index(store_), before) << "what rests on the index is made anew";
}

}  // namespace
}  // namespace papillote::store
