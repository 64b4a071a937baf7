#include "stages/indexing/indexing.h"

#include <gtest/gtest.h>

namespace papillote::indexing {
namespace {

EnvelopeOutline square(int number, double x, double y, double side) {
  EnvelopeOutline o;
  o.number = number;
  o.polygon_px = {{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}};
  o.crop = {Quad{{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}}}, static_cast<int>(side), static_cast<int>(side) / 2};
  o.size_mm = Point{side / 10, side / 20};
  return o;
}

SeenCode slip_at(const std::string& text, double x, double y) {
  return {text, "data_matrix", Quad{{{x - 5, y - 5}, {x + 5, y - 5}, {x + 5, y + 5}, {x - 5, y + 5}}}};
}

PhotoIndex indexed(const Calibration& calibration, const std::vector<EnvelopeOutline>& outlines, Each<Annotation> annotations = {}) {
  return index_rows({}, calibration, outlines, annotations, {}, {}, {}).value();
}

// The rules are those of the capture card reference: nearest within 40 mm, equally near is a question.
TEST(Indexing, GivesASlipToTheNearestEnvelopeWithinFortyMillimetres) {
  Calibration calibration;
  calibration.px_per_mm = 10;
  calibration.slips = {slip_at("PAP-1", 1150, 50), slip_at("PAP-2", 2100, 2100)};
  const auto index = indexed(calibration, {square(0, 0, 0, 1000), square(1, 1600, 0, 300)});
  EXPECT_EQ(index.envelopes[0].catalogue_number, "PAP-1");
  EXPECT_EQ(index.envelopes[1].catalogue_number, "");
}

TEST(Indexing, LeavesASlipBetweenTwoEnvelopesToTheCurator) {
  Calibration calibration;
  calibration.px_per_mm = 10;
  calibration.slips = {slip_at("PAP-1", 1100, 500)};
  const auto index = indexed(calibration, {square(0, 0, 0, 1000), square(1, 1200, 0, 1000)});
  for (const auto& record : index.envelopes) {
    EXPECT_EQ(record.catalogue_number, "");
    EXPECT_NE(record.slip_doubt.find("PAP-1"), std::string::npos);
  }
}

TEST(Indexing, WithoutAScaleOnlyASlipOnTheEnvelopeCounts) {
  Calibration calibration;
  calibration.slips = {slip_at("ON", 500, 500), slip_at("BESIDE", 1050, 500)};
  const auto index = indexed(calibration, {square(0, 0, 0, 1000)});
  EXPECT_EQ(index.envelopes[0].catalogue_number, "ON");
}

TEST(Indexing, TurnsTheCropSoThatTheTextStandsUpright) {
  Annotation sideways;
  sideways.turned_deg = 90;
  const auto index = indexed({}, {square(0, 0, 0, 100)}, {sideways});
  const EnvelopeOutline& outline = index.envelopes[0].outline;
  // A clockwise quarter turn brings the lower left corner to the upper left.
  EXPECT_EQ(outline.crop.quad_px[0], (Point{0, 100}));
  EXPECT_EQ(outline.crop.quad_px[1], (Point{0, 0}));
  EXPECT_EQ(outline.crop.width_px, 50);
  EXPECT_EQ(outline.crop.height_px, 100);
  EXPECT_EQ(outline.size_mm->x, 5);
}

TEST(Indexing, SaysThatConditionCouldNotBeJudged) {
  const auto index = index_rows({}, {}, {square(0, 0, 0, 10)}, {}, {}, {Failure{"condition", "internal", "the view is empty", "report it"}}, {}).value();
  EXPECT_FALSE(index.envelopes[0].condition.judged);
  EXPECT_EQ(index.envelopes[0].condition.why_not, "the view is empty");
}

}  // namespace
}  // namespace papillote::indexing
