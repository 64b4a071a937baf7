#include "pipeline/record/codec.h"

#include <limits>

#include <gtest/gtest.h>

namespace papillote {
namespace {

// NIST, FIPS 180-4 example: SHA-256 of "abc".
TEST(Digest, MatchesThePublishedExample) {
  EXPECT_EQ(digest_of("abc").hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

IndexRecord full_record() {
  IndexRecord record;
  record.id = "7K3M9QTX2";
  record.outline = {3, {{1, 2}, {30.5, 2}, {30.5, 40}}, {Quad{{{1, 2}, {31, 2}, {31, 40}, {1, 40}}}, 30, 38}, "triangle", Point{70.25, 50}, false, 0.9};
  Reading reading;
  reading.line.kind = LineKind::typed;
  reading.text = "Labuan 12.vii.1909 ♂";
  reading.alternatives = {{"Labuan 12.vi.1909", 0.1}};
  record.annotation.lines = {reading};
  Claim<std::string> date;
  date.verbatim = "12.vii.1909";
  date.value = "1909-07-12";
  date.alternatives = {{"1909-06-12", 0.1}};
  date.evidence = {{0, 7, 18}};
  record.interpretation.date = date;
  Claim<Place> place;
  place.value = Place{"Labuan", "geonames:1733782", "MY", 5.28, 115.24, 8000};
  record.interpretation.place = place;
  record.condition.findings = {{"hole", 2, 0.8, {{5, 5}, {6, 5}, {6, 6}}, 1.4, "round hole of 1.4 mm"}};
  record.triage = {"isolate", 0.9, {"frass"}};
  record.portrait = {2, 1, "08", {71.5, 1, 12}, 0.5};
  return record;
}

TEST(Codec, GivesBackEveryFieldOfARecord) {
  PhotoIndex before;
  before.photo = {"tin07/a.jpg", digest_of("x"), "jpeg", 3600, 2400, "1998-06-01T10:00:00", "own"};
  before.calibration.px_per_mm = 12.5;
  before.calibration.sheet = Sheet{"07", "3", "back", {{"shelf", "4"}}};
  before.calibration.card_px = Quad{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
  before.envelopes = {full_record(), IndexRecord{}};
  const auto after = nlohmann::json::parse(canonical(before)).get<PhotoIndex>();
  EXPECT_EQ(after, before);
}

TEST(Codec, CarriesFailuresAmongAnswers) {
  const Each<Triage> before{Triage{"valuable", 0.5, {"cotype"}}, Failure{"triage", "internal", "why", "what"}};
  const auto after = nlohmann::json::parse(canonical(before)).get<Each<Triage>>();
  ASSERT_EQ(after.size(), 2U);
  EXPECT_EQ(after[0].value(), before[0].value());
  EXPECT_EQ(after[1].failure(), before[1].failure());
}

TEST(Codec, WritesEqualAnswersAsEqualText) {
  EXPECT_EQ(canonical(Point{0.1 + 0.2, -0.0000001}), "[0.3,0.0]");
  EXPECT_EQ(canonical(nlohmann::json{{"b", 1}, {"a", 2}}), R"({"a":2,"b":1})");
}

TEST(Codec, DoesNotThrowAtInvalidUtf8OrNumbersThatJsonLacks) {
  Reading reading;
  reading.text = "\xff\xfe broken";
  reading.confidence = std::numeric_limits<double>::quiet_NaN();
  EXPECT_NE(canonical(reading).find("broken"), std::string::npos);
}

TEST(Result, ThrowsWhenTheValueOfAFailureIsRead) {
  const Result<int> failed = Failure{"a", "b", "c", "d"};
  EXPECT_FALSE(failed.ok());
  EXPECT_THROW(static_cast<void>(failed.value()), std::bad_variant_access);
}

}  // namespace
}  // namespace papillote
