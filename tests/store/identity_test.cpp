// Identity of envelopes: the same paper keeps its id whatever happens to its outline.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>
#include <set>

#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "tests/store/collection.h"

namespace papillote::store {
namespace {

TEST(Id, IsElevenCharactersOfCrockfordsAlphabet) {
  std::set<std::string> all;
  for (int i = 0; i < 2000; ++i) {
    const std::string id = mint_id(std::to_string(i));
    EXPECT_EQ(id.size(), 11U);
    EXPECT_EQ(id.find_first_not_of("0123456789ABCDEFGHJKMNPQRSTVWXYZ"), std::string::npos) << id;
    EXPECT_EQ(read_id(id), id);
    all.insert(id);
  }
  EXPECT_EQ(all.size(), 2000U);
}

TEST(Id, EveryMistypedCharacterIsNoticed) {
  // ISO 7064 MOD 37-36 catches all single errors (reference table identifiers: measured, all of 400 strings).
  constexpr std::string_view kAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
  for (int i = 0; i < 50; ++i) {
    const std::string id = mint_id(std::to_string(i));
    for (std::size_t at = 0; at < id.size(); ++at)
      for (const char c : kAlphabet) {
        std::string typed = id;
        typed[at] = c;
        EXPECT_EQ(read_id(typed).has_value(), typed == id) << typed;
      }
  }
}

TEST(Id, IsReadAsPeopleTypeIt) {
  std::string id;
  for (int i = 0; id.find('1') == std::string::npos || id.find('0') == std::string::npos; ++i) id = mint_id(std::to_string(i));
  std::string typed = id.substr(0, 5) + "-" + id.substr(5) + " ";
  for (char& c : typed) {
    if (c == '1') c = 'l';
    if (c == '0') c = 'o';
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  EXPECT_EQ(read_id(typed), id);
  EXPECT_FALSE(read_id(""));
  EXPECT_FALSE(read_id(id + "A"));
  EXPECT_FALSE(read_id("Köln"));
}

TEST(Overlap, AgreesWithAreasWorkedOutByHand) {
  EXPECT_NEAR(overlap(box(0, 0, 100, 100), box(0, 0, 100, 100)), 1, 1e-9);
  EXPECT_NEAR(overlap(box(0, 0, 100, 100), box(50, 0, 100, 100)), 1.0 / 3, 0.005);
  EXPECT_NEAR(overlap(box(0, 0, 100, 100), {{0, 0}, {100, 0}, {0, 100}}), 0.5, 0.005);
  // A square with a notch from its upper edge to its middle, against the left half: 50 of 87.5 + 12.5.
  const Polygon notched{{0, 0}, {25, 0}, {50, 50}, {75, 0}, {100, 0}, {100, 100}, {0, 100}};
  EXPECT_NEAR(overlap(notched, box(0, 0, 100, 100)), 0.875, 0.005);
  EXPECT_EQ(overlap(box(0, 0, 10, 10), box(20, 20, 10, 10)), 0);
  EXPECT_EQ(overlap({}, box(0, 0, 10, 10)), 0);
}

// A sheet of rows and columns whose envelopes differ in size and lie a little askew.
std::vector<Polygon> random_sheet(std::mt19937& random) {
  std::uniform_real_distribution<double> side(300, 480);
  std::uniform_real_distribution<double> askew(0, 100);
  std::vector<Polygon> outlines;
  for (int row = 0; row < 4; ++row)
    for (int column = 0; column < 6; ++column) {
      const double left = column * 600 + askew(random);
      const double top = row * 600 + askew(random);
      const double width = side(random);
      const double height = side(random);
      // One in three is a folded triangle.
      if ((row + column) % 3 == 0)
        outlines.push_back({{left, top}, {left + width, top}, {left, top + height}});
      else
        outlines.push_back(box(left, top, width, height));
    }
  return outlines;
}

std::vector<IndexRecord> records_of(const std::vector<Polygon>& outlines) {
  std::vector<IndexRecord> records;
  for (const Polygon& outline : outlines) records.push_back(envelope(static_cast<int>(records.size()), outline));
  return records;
}

TEST(Identity, SurvivesEveryNewSegmentationOfTheSamePhotograph) {
  std::mt19937 random(7);
  std::normal_distribution<double> jitter(0, 12);
  for (int round = 0; round < 25; ++round) {
    const TemporaryFolder folder;
    Store store = opened(folder.path());
    std::vector<Polygon> outlines = random_sheet(random);
    keep(store, photograph("sheet.jpg", records_of(outlines)));
    const std::vector<std::string> first = ids_on(store, "sheet.jpg");
    EXPECT_EQ(std::set(first.begin(), first.end()).size(), outlines.size());
    std::map<std::string, std::size_t> paper;
    for (std::size_t i = 0; i < first.size(); ++i) paper[first[i]] = i;

    for (int version = 0; version < 4; ++version) {
      // The corners move, the numbering changes, one envelope is not found, another is cut in two.
      std::vector<std::size_t> order(outlines.size());
      for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
      std::shuffle(order.begin(), order.end(), random);
      const std::size_t lost = order.back();
      const std::size_t halved = order.front();
      order.pop_back();
      std::vector<Polygon> now;
      std::vector<std::size_t> of;
      for (const std::size_t i : order) {
        Polygon outline = outlines[i];
        for (Point& p : outline) p = {p.x + jitter(random), p.y + jitter(random)};
        if (i == halved) {
          const double middle = outline[0].x + 250;
          now.push_back(box(middle, outline[0].y, 130, 300));
          of.push_back(i);
        }
        now.push_back(outline);
        of.push_back(i);
      }
      keep(store, photograph("sheet.jpg", records_of(now)));
      const std::vector<std::string> ids = ids_on(store, "sheet.jpg");
      EXPECT_EQ(std::set(ids.begin(), ids.end()).size(), ids.size()) << "one id for two outlines";
      for (std::size_t k = 0; k < ids.size(); ++k) {
        if (of[k] != halved) {
          EXPECT_EQ(ids[k], first[of[k]]) << "round " << round << " version " << version;
        } else if (paper.contains(ids[k])) {
          EXPECT_EQ(paper.at(ids[k]), halved) << "a piece took the id of another envelope";
        }
        EXPECT_NE(ids[k], first[lost]) << "the id of a lost envelope went to another";
      }
    }
    keep(store, photograph("sheet.jpg", records_of(outlines)));
    EXPECT_EQ(ids_on(store, "sheet.jpg"), first) << "found again, each has its id again";
  }
}

TEST(Identity, DoesNotDependOnTheOrderOfWork) {
  std::mt19937 random(11);
  std::vector<PhotoIndex> photographs;
  for (int p = 0; p < 12; ++p) {
    std::vector<IndexRecord> records = records_of(random_sheet(random));
    for (std::size_t i = 0; i < records.size(); i += 5)
      records[i].catalogue_number = fmt::format("ENT {}", (p / 2) * 100 + static_cast<int>(i));
    photographs.push_back(
        photograph(fmt::format("{:02}.jpg", p), std::move(records), "7", std::to_string(p / 2), p % 2 == 0 ? "front" : "back"));
  }
  std::vector<std::vector<std::string>> expected;
  for (int attempt = 0; attempt < 6; ++attempt) {
    const TemporaryFolder folder;
    std::vector<PhotoIndex> order = photographs;
    std::shuffle(order.begin(), order.end(), random);
    for (const PhotoIndex& index : order) {
      Store store = opened(folder.path());  // as after a stop between any two
      keep(store, index);
    }
    Store store = opened(folder.path());
    std::vector<std::vector<std::string>> ids;
    for (const PhotoIndex& index : photographs) ids.push_back(ids_on(store, index.photo.path));
    if (attempt == 0) expected = ids;
    EXPECT_EQ(ids, expected);
  }
  EXPECT_EQ(expected[0][5], expected[1][5]) << "the same slip on front and back is the same envelope";
  EXPECT_NE(expected[0][1], expected[1][1]);
}

TEST(Identity, TheSameBytesAtTwoPathsAreTheSameEnvelopes) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  PhotoIndex one = photograph("a.jpg", {envelope(0, box(0, 0, 400, 300))});
  PhotoIndex copy = one;
  copy.photo.path = "copy.jpg";
  keep(store, one);
  keep(store, copy);
  EXPECT_EQ(ids_on(store, "a.jpg"), ids_on(store, "copy.jpg"));
}

class Slips : public ::testing::Test {
 protected:
  void keep_front(const std::string& slip_a, const std::string& slip_b = "") {
    keep(store_, photograph("front.jpg",
                            {envelope(0, box(0, 0, 400, 300), "front a", slip_a),
                             envelope(1, box(500, 0, 400, 300), "front b", slip_b)},
                            "7", "1", "front"));
  }
  std::string front(std::size_t i) { return ids_on(store_, "front.jpg")[i]; }

  TemporaryFolder folder_;
  Store store_ = opened(folder_.path());
};

TEST_F(Slips, ReadLaterJoinWhatWasKnownByPosition) {
  keep_front("");
  const std::string by_position = front(0);
  decide(store_, {by_position, "collector", "\"A. Example\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  keep(store_, photograph("back.jpg", {envelope(0, box(90, 90, 300, 300), "back a", "N1")}, "7", "1", "back"));
  const std::string by_number = ids_on(store_, "back.jpg")[0];
  EXPECT_NE(by_number, by_position);
  keep_front("N1");
  EXPECT_EQ(front(0), by_number);
  EXPECT_EQ(current_id(store_, by_position), by_number);
  EXPECT_EQ(id_of_catalogue_number(store_, "N1"), by_number);
  ASSERT_EQ(decisions_of(store_, by_number).size(), 1U) << "what was decided follows";
  const auto views = views_of(store_, by_position);
  ASSERT_EQ(views.size(), 2U);
  EXPECT_EQ(views[0].photo.path, "front.jpg");
  EXPECT_EQ(views[1].photo.path, "back.jpg");
}

TEST_F(Slips, NotReadThisTimeStillLieThere) {
  keep_front("N1");
  const std::string id = front(0);
  keep_front("");
  EXPECT_EQ(front(0), id);
}

TEST_F(Slips, FoundToLieByTheNeighbourLeaveTheFirst) {
  keep_front("N1");
  const std::string number = front(0);
  const std::string neighbour = front(1);
  keep_front("", "N1");
  EXPECT_EQ(front(1), number);
  EXPECT_NE(front(0), number);
  EXPECT_EQ(current_id(store_, neighbour), number);
  EXPECT_EQ(current_id(store_, front(0)), front(0)) << "no longer joined";
}

TEST_F(Slips, ByTwoEnvelopesAreAQuestion) {
  keep_front("N1", "N1");
  EXPECT_NE(front(0), front(1));
  for (const IndexRecord& record : records_on(store_, "front.jpg")) {
    EXPECT_THAT(record.slip_doubt, ::testing::HasSubstr("N1"));
    EXPECT_EQ(record.catalogue_number, "");
  }
  EXPECT_FALSE(id_of_catalogue_number(store_, "N1"));
}

TEST_F(Slips, DecisionsOfEnvelopesNoLongerFoundAreKeptApart) {
  keep_front("");
  const std::string b = front(1);
  decide(store_, {b, "date", "\"1897-07\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  EXPECT_TRUE(orphans(store_).empty());
  keep(store_, photograph("front.jpg", {envelope(0, box(0, 0, 400, 300), "front a")}, "7", "1"));
  ASSERT_EQ(orphans(store_).size(), 1U);
  EXPECT_EQ(orphans(store_)[0].envelope_id, b);
  EXPECT_EQ(totals(store_).orphaned_decisions, 1);
  keep_front("");
  EXPECT_EQ(front(1), b);
  EXPECT_TRUE(orphans(store_).empty());
}

TEST(Identity, ABackCountsAsItsFrontUntilItIsGivenBack) {
  TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, photograph("front", {envelope(0, box(0, 0, 100, 100), "", "LEP-1"), envelope(1, box(200, 0, 100, 100))}));
  const Digest front = find_photograph(store, "front")->index.photo.sha256;
  const PhotoIndex back = photograph("back", {envelope(0, box(205, 3, 100, 100)), envelope(1, box(400, 0, 100, 100))});
  keep(store, back);
  const auto fronts = ids_on(store, "front");
  const auto alone = ids_on(store, "back");

  const auto count = [&](const std::string& id, const std::string& other, double confidence) {
    Transaction transaction(store);
    count_as(store, back.photo.sha256, id, front, other);
    transaction.commit();
    PhotoIndex again = back;
    again.envelopes[0].other_side = OtherSide{confidence, "by position"};
    keep(store, again);
  };
  count(alone[0], fronts[1], 0.9);
  EXPECT_EQ(ids_on(store, "back"), (std::vector<std::string>{fronts[1], alone[1]}));
  EXPECT_EQ(current_id(store, alone[0]), fronts[1]);  // the old id still leads to it
  keep(store, back);                                  // worked on again: it stays joined
  EXPECT_EQ(ids_on(store, "back")[0], fronts[1]);

  count(fronts[1], "", 0.2);
  EXPECT_EQ(ids_on(store, "back"), alone);
  EXPECT_EQ(current_id(store, alone[0]), alone[0]);
  EXPECT_EQ(ids_on(store, "front"), fronts);
}

}  // namespace
}  // namespace papillote::store
