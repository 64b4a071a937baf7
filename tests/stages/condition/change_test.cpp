// An envelope drawn twice: turned, at another scale and with its findings as they were, or larger.
#include "stages/condition/change.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/stages/condition/stained_envelope.h"

namespace papillote::condition {
namespace {

using drawn::finding;
using drawn::photographed;
using drawn::picture;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::Pair;

constexpr const char* kThen = "2019-05-02T10:00:00";

std::vector<std::string> grown(const IndexRecord& then, const image::Image& before, const IndexRecord& now,
                               const image::Image& after) {
  std::vector<std::string> kinds;
  for (const Finding& each : grown_findings({now, after}, {then, before}, kThen)) {
    if (each.grown_since.empty()) continue;
    EXPECT_EQ(each.grown_since, kThen);
    kinds.push_back(each.kind);
  }
  return kinds;
}

TEST(Change, SaysNothingOfWhatStayedUnderAnotherLightAndTurn) {
  const Point at{52, 18};
  const std::vector<Finding> stain{finding("water_stain", 3, at, 6)};
  const auto then = photographed(stain, 10, 4);
  EXPECT_THAT(grown(then, picture({{at, 6}}, 10, 4), photographed(stain, 9, 97), picture({{at, 6}}, 9, 97, 0.85)), IsEmpty());
  // The net's outline may wander where the picture did not change.
  EXPECT_THAT(grown(then, picture({{at, 6}}, 10, 4), photographed({finding("water_stain", 3, at, 8)}, 10, 4),
                    picture({{at, 6}}, 10, 4)),
              IsEmpty());
}

TEST(Change, FlagsALargerStainAndOneThatIsNew) {
  const Point at{52, 18};
  const auto then = photographed({finding("water_stain", 2, at, 4)}, 10, 4);
  const auto before = picture({{at, 4}}, 10, 4);
  EXPECT_THAT(grown(then, before, photographed({finding("water_stain", 3, at, 9)}, 9, 97), picture({{at, 9}}, 9, 97)),
              ElementsAre("water_stain"));
  const Point other{62, 34};
  EXPECT_THAT(grown(then, before, photographed({finding("water_stain", 2, at, 4), finding("mould", 2, other, 4)}, 9, 97),
                    picture({{at, 4}, {other, 4}}, 9, 97)),
              ElementsAre("mould"));
}

TEST(Change, ADoubtfulFindingDoesNotHideThatSomethingChanged) {
  const Point at{52, 18};
  EXPECT_THAT(grown(photographed({}, 10, 4), picture({}, 10, 4), photographed({finding("tape", 4, at, 9, 0.4)}, 9, 97),
                    picture({{at, 8}}, 9, 97)),
              ElementsAre(kChanged));
}

TEST(Change, DoesNotCompareWhatWasNotJudged) {
  auto then = photographed({}, 10, 4);
  then.condition.judged = false;
  const Point at{52, 18};
  EXPECT_THAT(grown(then, picture({}, 10, 4), photographed({finding("mould", 4, at, 8)}, 10, 4), picture({{at, 8}}, 10, 4)),
              IsEmpty());
}

IndexRecord written(const std::string& text, Point size_mm, const std::string& number = "") {
  IndexRecord record;
  record.annotation.text = text;
  record.catalogue_number = number;
  record.outline.size_mm = size_mm;
  record.outline.crop.width_px = static_cast<int>(10 * size_mm.x);
  record.outline.crop.height_px = static_cast<int>(10 * size_mm.y);
  return record;
}

TEST(Change, KnowsEnvelopesAgain) {
  const std::vector<IndexRecord> then{written("Labuan\n3.iv.1895", {70, 50}), written("Sandakan 1901", {70, 50}),
                                      written("", {40, 40}), written("x", {60, 50}, "PAP-1")};
  const std::vector<IndexRecord> now{written("Sandakan 190l", {71, 50}), written("Labuan\n3.iv.l895", {50, 70}),
                                     written("", {40.5, 40}), written("y", {61, 50}, "PAP-1")};
  EXPECT_THAT(same_envelopes(then, now), testing::UnorderedElementsAre(Pair(0, 1), Pair(1, 0), Pair(2, 2), Pair(3, 3)));
  EXPECT_THAT(same_envelopes({written("Labuan 1895", {70, 50})}, {written("Labuan 1895", {110, 80})}), IsEmpty());
  EXPECT_THAT(same_envelopes({written("Labuan 1895", {70, 50}, "PAP-1")}, {written("Labuan 1895", {70, 50}, "PAP-2")}),
              IsEmpty());
  EXPECT_THAT(same_envelopes({written("", {70, 50})}, {written("", {90, 50})}), IsEmpty());
}

}  // namespace
}  // namespace papillote::condition
