// Scanned codes, and the account of what was taken in hand.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/bench/handlings.h"
#include "pipeline/bench/scan.h"
#include "pipeline/record/check_character.h"
#include "tests/store/collection.h"

namespace papillote::bench {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const std::string kNumber = "PAP000007" + std::string(1, check_character("PAP000007").value());

class Following : public ::testing::Test {
 protected:
  void SetUp() override {
    using store::box;
    using store::envelope;
    store_.emplace(store::opened(folder_.path()));
    store::keep(*store_, store::photograph("a.jpg",
                                           {envelope(1, box(10, 10, 80, 60), "Simla", kNumber),
                                            envelope(2, box(210, 10, 80, 60)), envelope(3, box(410, 10, 80, 60))},
                                           "7", "1"));
    store::keep(*store_,
                store::photograph("b.jpg", {envelope(1, box(10, 10, 80, 60)), envelope(2, box(210, 10, 80, 60))}, "8", "1"));
    ids_ = store::ids_on(*store_, "a.jpg");
  }

  void record(const std::string& id, const std::string& kind, const std::string& when, const std::string& where = "",
              bool corrects = false) {
    const auto done = store::record_movements(*store_, {{id, kind, "Ada", when, where, "", corrects}});
    ASSERT_TRUE(done.ok()) << done.failure().reason;
  }

  int handlings(const std::string& id) {
    int count = -1;
    store::for_each_followed(*store_, [&](const store::Followed& one) {
      if (one.id == id) count = handlings_of(one);
    });
    return count;
  }

  store::TemporaryFolder folder_;
  std::optional<store::Store> store_;
  std::vector<std::string> ids_;
};

TEST_F(Following, KnowsAnEnvelopeByNumberAndByIdentity) {
  std::string spaced = kNumber;
  spaced.insert(6, " ").insert(3, " ");
  std::string small = spaced;
  for (char& c : small) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  for (const std::string& text : {kNumber, kNumber + "\r", " " + spaced + " ", small, ids_[0]}) {
    const auto scanned = scanned_envelope(*store_, text);
    ASSERT_TRUE(scanned.ok()) << text;
    EXPECT_EQ(scanned->id, ids_[0]);
    EXPECT_EQ(scanned->catalogue_number, kNumber);
  }
  EXPECT_EQ(scanned_envelope(*store_, ids_[1])->catalogue_number, "");
}

TEST_F(Following, RefusesWhatItDoesNotKnow) {
  std::string misread = kNumber;
  misread[5] = '8';
  EXPECT_EQ(scanned_envelope(*store_, misread).failure().kind, "misread");
  const std::string other = "PAP000099" + std::string(1, check_character("PAP000099").value());
  EXPECT_EQ(scanned_envelope(*store_, other).failure().kind, "unknown_envelope");
  for (const std::string text : {"", "<script>alert(1)</script>", "=1+1", "x\xE2\x80\xAEy", "\xff\xfe", "tin=07;sheet=3"})
    EXPECT_EQ(scanned_envelope(*store_, text).failure().kind, "no_code") << text;
  EXPECT_EQ(scanned_envelope(*store_, std::string(100000, 'A')).failure().kind, "no_code");
  // What is repeated cannot turn the direction of a terminal's text.
  EXPECT_THAT(scanned_envelope(*store_, "x\xE2\x80\xAEy").failure().reason, Not(HasSubstr("\xE2\x80\xAE")));
}

TEST_F(Following, ReadsPlacesButNoHiddenCharacters) {
  EXPECT_EQ(scanned_place(place_code("drawer 12, tray 3") + "\r").value(), "drawer 12, tray 3");
  EXPECT_FALSE(scanned_place(kNumber));
  EXPECT_TRUE(plain_words("Kästchen 3", "place").ok());
  for (const std::string text : {"a\nb", "a\x1b[2J", "\xE2\x80\xAEx", "\xff"})
    EXPECT_EQ(plain_words(text, "place").failure().kind, "unclear_words");
  EXPECT_EQ(plain_words(std::string(201, 'a'), "note").failure().kind, "unclear_words");
}

TEST_F(Following, CountsHandlingsAsDefined) {
  EXPECT_EQ(handlings(ids_[0]), 1);  // laid out for its photograph
  record(ids_[0], "picked", "2026-01-01T10:00:00Z");
  record(ids_[0], "relaxing", "2026-01-01T11:00:00Z");
  record(ids_[0], "on_board", "2026-01-02T11:00:00Z", "board 1");
  record(ids_[0], "drying", "2026-01-02T12:00:00Z");  // nobody touches it
  EXPECT_EQ(handlings(ids_[0]), 4);
  record(ids_[0], "housed", "2026-01-12T12:00:00Z", "drawer 1");
  record(ids_[0], "housed", "2026-01-12T12:01:00Z", "drawer 2", true);  // a wrong scan, not a second handling
  EXPECT_EQ(handlings(ids_[0]), 5);
  record(ids_[1], "frozen", "2026-01-12T12:00:00Z");
  record(ids_[1], "returned", "2026-01-12T12:01:00Z", "", true);
  EXPECT_EQ(handlings(ids_[1]), 1);
}

TEST_F(Following, AccountsForEveryTin) {
  // On one day two of three are taken from tin 7, one of them a minute later: one opening, one envelope left alone.
  record(ids_[0], "picked", "2026-01-01T10:00:00Z");
  record(ids_[1], "picked", "2026-01-01T10:01:00Z");
  // On another day the last one: nothing was left to leaf through.
  record(ids_[2], "picked", "2026-01-02T10:00:00Z");
  record(ids_[0], "housed", "2026-01-02T11:00:00Z", "drawer 1");
  record(ids_[2], "missing", "2026-01-03T11:00:00Z");
  const auto tins = account_of(*store_);
  ASSERT_EQ(tins.size(), 2U);
  EXPECT_EQ(tins[0].tin, "7");
  EXPECT_EQ(tins[0].in, 0);
  EXPECT_EQ(tins[0].housed, 1);
  EXPECT_EQ(tins[0].elsewhere, 1);
  EXPECT_EQ(tins[0].missing, 1);
  EXPECT_EQ(tins[0].openings, 2);
  EXPECT_EQ(tins[0].avoided, 1);
  EXPECT_EQ(tins[0].handlings, 7);
  EXPECT_EQ(tins[1].in, 2);
  EXPECT_EQ(tins[1].openings, 0);
  EXPECT_EQ(tins[1].avoided, 0);  // never opened: not counted, though nobody needed to
}

}  // namespace
}  // namespace papillote::bench
