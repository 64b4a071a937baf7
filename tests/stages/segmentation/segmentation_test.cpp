#include "stages/segmentation/segmentation.h"

#include <algorithm>
#include <cmath>
#include <iostream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "models/library.h"
#include "tests/stages/segmentation/draw_sheet.h"

namespace papillote::segmentation {
namespace {

using testing::HasSubstr;

const Photo kPhoto{"tin_07/a.jpg", {}, "jpeg", 0, 0, {}, {}};
const cv::Scalar kGrey(128, 128, 128);
const cv::Scalar kCream(190, 220, 230);
const cv::Scalar kKraft(90, 130, 165);

Calibration scaled(double px_per_mm) {
  Calibration calibration;
  calibration.px_per_mm = px_per_mm;
  calibration.scale_source = "given";
  return calibration;
}

// The network that the repository carries; nothing without the inference runtime, and the test is skipped.
const Finder* finder() {
  static const auto opened = Finder::open(models::models_folder());
  if (opened.ok()) return &*opened;
  if (opened.failure().kind == "runtime_missing") std::cout << "skipped: " << opened.failure().reason << "\n";
  else ADD_FAILURE() << opened.failure().reason;
  return nullptr;
}

std::vector<EnvelopeOutline> found_on(const cv::Mat& photo, const Calibration& calibration = scaled(8)) {
  const auto result = find_envelopes(kPhoto, calibration, {photo}, *finder(), {});
  return result ? *result : std::vector<EnvelopeOutline>{};
}

double best_overlap(const std::vector<EnvelopeOutline>& outlines, const Polygon& truth) {
  double best = 0;
  for (const EnvelopeOutline& o : outlines) best = std::max(best, draw::overlap(o.polygon_px, truth));
  return best;
}

class AnyTurn : public testing::TestWithParam<int> {};

TEST_P(AnyTurn, SidesArePlacedWithinAPixel) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1800, 1300}, kGrey);
  const Polygon rectangle = draw::turned(draw::rectangle(560, 400), GetParam(), {500, 500});
  const Polygon triangle = draw::turned(draw::triangle(640), GetParam(), {1300, 750});
  draw::envelope(photo, rectangle, kCream);
  draw::envelope(photo, triangle, kKraft);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 2U);
  for (const Polygon& truth : {rectangle, triangle}) {
    EXPECT_GT(best_overlap(outlines, truth), 0.985);
    for (const Point& corner : truth) {
      double nearest = 1e9;
      for (const EnvelopeOutline& o : outlines)
        for (const Point& p : o.polygon_px) nearest = std::min(nearest, std::hypot(p.x - corner.x, p.y - corner.y));
      EXPECT_LT(nearest, 1.5);
    }
  }
  EXPECT_THAT((std::vector<std::string>{outlines[0].shape, outlines[1].shape}), testing::UnorderedElementsAre("rectangle", "triangle"));
}

INSTANTIATE_TEST_SUITE_P(Turns, AnyTurn, testing::Values(0, 7, 30, 45, 80, 135, 200, 291));

TEST(Crop, FollowsTheEnvelopesOwnEdgesAndTellsItsSize) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1800, 1300}, kGrey);
  draw::envelope(photo, draw::turned(draw::rectangle(560, 400), 12, {500, 500}), kCream);
  draw::envelope(photo, draw::turned(draw::triangle(640), 200, {1300, 750}), kKraft);
  for (const EnvelopeOutline& o : found_on(photo)) {
    ASSERT_TRUE(o.size_mm);
    const bool triangle = o.shape == "triangle";
    // 8 px are one millimetre; a folded triangle is half as high as it is long.
    EXPECT_NEAR(o.size_mm->x, triangle ? 80 : 70, 0.5);
    EXPECT_NEAR(o.size_mm->y, triangle ? 40 : 50, 0.5);
    const auto& q = o.crop.quad_px;
    EXPECT_NEAR(std::hypot(q[1].x - q[0].x, q[1].y - q[0].y), o.crop.width_px, 1);
    EXPECT_NEAR(std::hypot(q[3].x - q[0].x, q[3].y - q[0].y), o.crop.height_px, 1);
    if (triangle) {
      // The longest side lies along the lower edge of the crop, wherever the triangle points in the photograph.
      const Polygon upright = image::carried(o.polygon_px, image::crop_from_photo(o.crop));
      EXPECT_EQ(std::count_if(upright.begin(), upright.end(), [&](const Point& p) { return p.y > o.crop.height_px - 3; }), 2);
    }
  }
}

TEST(Crop, WithoutAScaleTheSizeStaysUnknown) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1800, 1300}, kGrey);
  draw::envelope(photo, draw::turned(draw::rectangle(560, 400), 12, {500, 500}), kCream);
  const auto outlines = found_on(photo, {});
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_FALSE(outlines[0].size_mm);
}

TEST(Crop, SizeIsMeasuredOnTheTablesPlane) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1800, 1300}, kGrey);
  const Polygon paper = draw::turned(draw::rectangle(560, 400), 0, {600, 500});
  draw::envelope(photo, paper, kCream);
  Calibration calibration = scaled(8);
  // A tilted camera: farther down a millimetre is more pixels.
  calibration.mm_from_px = std::array<double, 9>{0.125, 0, 0, 0, 0.125, 0, 0, 0.0002, 1};
  const auto outlines = found_on(photo, calibration);
  ASSERT_EQ(outlines.size(), 1U);
  const Polygon mm = image::carried(paper, cv::Matx33d(calibration.mm_from_px->data()));
  EXPECT_NEAR(outlines[0].size_mm->x, ((mm[1].x - mm[0].x) + (mm[2].x - mm[3].x)) / 2, 0.5);
}

struct Ground {
  const char* name;
  cv::Scalar table;
  cv::Scalar paper;
  double grain;
};

class EveryTable : public testing::TestWithParam<Ground> {};

TEST_P(EveryTable, ThreeEnvelopesAreFoundAndNothingElse) {
  if (finder() == nullptr) return;
  const Ground& ground = GetParam();
  cv::Mat photo = draw::table({1800, 1300}, ground.table, ground.grain);
  const std::vector<Polygon> truth{draw::turned(draw::rectangle(520, 380), 4, {350, 350}), draw::turned(draw::triangle(600), 170, {1200, 400}),
                                   draw::turned(draw::rectangle(500, 340), 95, {900, 950})};
  for (const Polygon& p : truth) draw::envelope(photo, p, ground.paper);
  cv::GaussianBlur(photo, photo, {}, 0.8);
  const auto outlines = found_on(photo);
  EXPECT_EQ(outlines.size(), 3U);
  for (const Polygon& p : truth) EXPECT_GT(best_overlap(outlines, p), 0.93);
}

INSTANTIATE_TEST_SUITE_P(Tables, EveryTable,
                         testing::Values(Ground{"grey card", {128, 128, 128}, {205, 222, 228}, 2}, Ground{"baize", {60, 95, 45}, {205, 222, 228}, 9},
                                         Ground{"velvet", {24, 22, 25}, {110, 150, 180}, 4}, Ground{"white on white", {228, 230, 231}, {236, 240, 241}, 1.5},
                                         Ground{"kraft on tan", {120, 165, 190}, {100, 140, 170}, 3}),
                         [](const auto& tested) {
                           std::string name = tested.param.name;
                           std::replace(name.begin(), name.end(), ' ', '_');
                           return name;
                         });

TEST(Cluster, TouchingEnvelopesAreTakenApart) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1900, 1300}, kGrey);
  const Polygon left = draw::turned(draw::rectangle(520, 380), 3, {400, 400});
  const Polygon right = draw::turned(draw::rectangle(520, 380), -4, {910, 480});
  const Polygon above = draw::turned(draw::triangle(640), 0, {560, 980});
  const Polygon beside = draw::turned(draw::triangle(640), 180, {890, 985});
  draw::envelope(photo, left, kCream);
  draw::envelope(photo, right, cv::Scalar(225, 230, 232));
  draw::envelope(photo, above, kKraft);
  draw::envelope(photo, beside, cv::Scalar(150, 195, 210));
  const auto outlines = found_on(photo);
  EXPECT_EQ(outlines.size(), 4U);
  for (const Polygon& p : {left, right, above, beside}) EXPECT_GT(best_overlap(outlines, p), 0.85);
}

TEST(Glance, SeesAsManyEnvelopesWhereTheyLie) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({2400, 1600}, kGrey);
  std::vector<Polygon> truth;
  for (int i = 0; i < 6; ++i)
    truth.push_back(draw::turned(i % 2 == 0 ? draw::rectangle(520, 380) : draw::triangle(600), 11 * i, {450.0 + 750 * (i % 3), 450.0 + 700 * (i / 3)}));
  for (const Polygon& one : truth) draw::envelope(photo, one, kCream);
  const auto seen = glance(kPhoto, scaled(8), {photo}, *finder(), {});
  ASSERT_TRUE(seen.ok());
  EXPECT_EQ(seen->size(), truth.size());
  for (const Polygon& one : truth) EXPECT_GT(best_overlap(*seen, one), 0.94);
  EXPECT_TRUE(std::none_of(seen->begin(), seen->end(), [](const EnvelopeOutline& o) { return o.cut_off; }));
  const auto none = glance(kPhoto, scaled(8), {draw::table({1500, 1100}, kGrey)}, *finder(), {});
  EXPECT_FALSE(none.ok());
}

TEST(Cluster, AFoldDoesNotMakeTwo) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1500, 1100}, kGrey);
  const Polygon paper = draw::turned(draw::rectangle(700, 460), 0, {700, 500});
  draw::envelope(photo, paper, kCream);
  cv::line(photo, {350, 430}, {1050, 430}, cv::Scalar(178, 208, 218), 3, cv::LINE_AA);
  cv::line(photo, {350, 433}, {1050, 433}, cv::Scalar(198, 225, 233), 2, cv::LINE_AA);
  cv::putText(photo, "Digne 14.VII.1904", {480, 560}, cv::FONT_HERSHEY_SCRIPT_COMPLEX, 1.6, cv::Scalar(40, 30, 30), 2, cv::LINE_AA);
  draw::grain(photo, 3);  // of the sensor: no camera gives paper of one single value
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_GT(draw::overlap(outlines[0].polygon_px, paper), 0.97);
}

TEST(Cluster, ASoftShadowIsLeftOut) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1500, 1100}, kGrey);
  const Polygon paper = draw::turned(draw::rectangle(600, 420), 15, {700, 500});
  draw::shade(photo, paper, {25, 30}, 15, 0.6);
  draw::paper(photo, paper, kCream);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_GT(draw::overlap(outlines[0].polygon_px, paper), 0.95);
}

TEST(NotAnEnvelope, CardLabelSlipsAndRulerAreLeftOut) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({2400, 1600}, kGrey);
  const cv::Scalar white(240, 240, 240);
  const Polygon envelope = draw::turned(draw::rectangle(520, 380), 5, {1700, 1100});
  draw::envelope(photo, envelope, kCream);
  draw::envelope(photo, draw::turned(draw::rectangle(880, 480), 0, {600, 400}), white);     // card
  draw::envelope(photo, draw::turned(draw::rectangle(480, 240), 2, {1700, 300}), white);    // label
  draw::envelope(photo, draw::turned(draw::rectangle(240, 170), -8, {400, 1000}), white);   // slip
  draw::envelope(photo, draw::turned(draw::rectangle(1200, 200), 0, {800, 1400}), white);   // ruler
  Calibration calibration = scaled(8);
  calibration.card_px = Quad{{{160, 160}, {1040, 160}, {1040, 640}, {160, 640}}};
  calibration.label_px = Quad{{{1500, 220}, {1660, 220}, {1660, 380}, {1500, 380}}};
  calibration.slips.push_back({"OC-1", "data_matrix", {{{320, 950}, {420, 950}, {420, 1050}, {320, 1050}}}});
  const auto outlines = found_on(photo, calibration);
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_GT(draw::overlap(outlines[0].polygon_px, envelope), 0.97);
}

TEST(NotAnEnvelope, AnEmptyTableIsAFailureThatNamesTheFile) {
  if (finder() == nullptr) return;
  for (const double grain : {1.0, 4.0, 10.0}) {
    const auto result = find_envelopes(kPhoto, scaled(8), {draw::table({1600, 1100}, kGrey, grain)}, *finder(), {});
    ASSERT_FALSE(result.ok());
    EXPECT_EQ(result.failure().kind, "no_envelope");
    EXPECT_THAT(result.failure().reason, HasSubstr("tin_07/a.jpg"));
    EXPECT_FALSE(result.failure().remedy.empty());
  }
}

TEST(NotAnEnvelope, AGradientARuledTableAndNoiseHaveNone) {
  if (finder() == nullptr) return;
  cv::Mat gradient(1100, 1600, CV_8UC3);
  for (int x = 0; x < gradient.cols; ++x) gradient.col(x) = cv::Scalar::all(60 + x / 12);
  EXPECT_TRUE(found_on(gradient).empty());
  cv::Mat ruled = draw::table({1600, 1100}, cv::Scalar(70, 85, 35));
  for (int x = 40; x < 1600; x += 80) cv::line(ruled, {x, 0}, {x, 1100}, cv::Scalar(150, 165, 125), 2, cv::LINE_AA);
  for (int y = 40; y < 1100; y += 80) cv::line(ruled, {0, y}, {1600, y}, cv::Scalar(150, 165, 125), 2, cv::LINE_AA);
  EXPECT_TRUE(found_on(ruled).empty());
  cv::Mat noise(1100, 1600, CV_8UC3);
  cv::RNG rng(4);
  rng.fill(noise, cv::RNG::UNIFORM, 0, 256);
  EXPECT_TRUE(found_on(noise).empty());
}

TEST(BadPicture, EmptyAndTinyPicturesDoNoHarm) {
  if (finder() == nullptr) return;
  EXPECT_FALSE(find_envelopes(kPhoto, {}, {}, *finder(), {}).ok());
  for (const cv::Size size : {cv::Size(1, 1), cv::Size(64, 64), cv::Size(3000, 3), cv::Size(70, 2000)})
    EXPECT_FALSE(find_envelopes(kPhoto, {}, {cv::Mat(size, CV_8UC3, cv::Scalar::all(90))}, *finder(), {}).ok());
}

TEST(BadPicture, TwoHundredSmallEnvelopesAreAllFound) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({3600, 2400}, kGrey);
  std::vector<Polygon> truth;
  cv::RNG chance(5);
  for (int i = 0; i < 200; ++i) {
    const cv::Rect place(25 + 178 * (i % 20), 20 + 236 * (i / 20), 170, 230);
    const Polygon paper = draw::turned(draw::rectangle(chance.uniform(105, 135), chance.uniform(150, 180)), chance.uniform(-6, 6), {place.width / 2.0, place.height / 2.0});
    cv::Mat patch = photo(place);
    draw::envelope(patch, paper, i % 3 == 0 ? kKraft : kCream);
    truth.push_back(paper);
    for (Point& p : truth.back()) p = {p.x + place.x, p.y + place.y};
  }
  const auto outlines = found_on(photo, scaled(4));
  EXPECT_EQ(outlines.size(), 200U);
  EXPECT_GE(std::count_if(truth.begin(), truth.end(), [&](const Polygon& p) { return best_overlap(outlines, p) > 0.85; }), 198);
}

// A hand from the lower edge with four fingers spread, and tweezers of bare steel.
void lay_hand(cv::Mat& photo, cv::Point wrist) {
  const cv::Scalar skin(135, 165, 215);
  const auto limb = [&](cv::Point from, cv::Point to, int thick) {
    cv::line(photo, from + cv::Point(9, 12), to + cv::Point(9, 12), cv::Scalar(75, 75, 78), thick, cv::LINE_AA);
    cv::line(photo, from, to, skin, thick, cv::LINE_AA);
    cv::line(photo, from - cv::Point(thick / 5, 0), to - cv::Point(thick / 5, 0), skin * 1.07, thick / 4, cv::LINE_AA);
  };
  limb(wrist, wrist - cv::Point(0, 330), 210);
  for (const cv::Point& tip : {cv::Point(-190, -560), cv::Point(-75, -680), cv::Point(50, -690), cv::Point(160, -610)})
    limb(wrist - cv::Point(-tip.x / 3, 330), wrist + tip, 66);
}
void lay_tweezers(cv::Mat& photo, cv::Point tip) {
  for (const cv::Point& end : {cv::Point(420, -60), cv::Point(425, -10)}) {
    cv::line(photo, tip + cv::Point(4, 8), tip + end + cv::Point(4, 8), cv::Scalar(80, 80, 80), 14, cv::LINE_AA);
    cv::line(photo, tip, tip + end, cv::Scalar(175, 172, 168), 14, cv::LINE_AA);
    cv::line(photo, tip - cv::Point(0, 3), tip + end - cv::Point(0, 3), cv::Scalar(240, 240, 240), 4, cv::LINE_AA);
  }
}

TEST(BadPicture, AHandAndTweezersAreNoEnvelopes) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({2000, 1500}, kGrey);
  const Polygon first = draw::turned(draw::rectangle(560, 400), 6, {450, 400}), second = draw::turned(draw::triangle(640), 0, {1500, 380});
  draw::envelope(photo, first, kCream);
  draw::envelope(photo, second, kKraft);
  lay_hand(photo, {900, 1560});
  lay_tweezers(photo, {1350, 900});
  draw::grain(photo, 2);
  const auto outlines = found_on(photo);
  for (const Polygon& p : {first, second}) EXPECT_GT(best_overlap(outlines, p), 0.9);
  for (const EnvelopeOutline& o : outlines)
    EXPECT_TRUE(std::max(draw::overlap(o.polygon_px, first), draw::overlap(o.polygon_px, second)) > 0.9 || o.confidence < 0.5) << o.confidence;
}

TEST(BadPicture, ReflectionsOnGlassineDoNotPartIt) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1500, 1100}, cv::Scalar(60, 95, 45), 6);
  const Polygon paper = draw::turned(draw::rectangle(700, 460), 8, {720, 540});
  const cv::Mat table = photo.clone();
  draw::envelope(photo, paper, cv::Scalar(200, 208, 210));
  // The table shows through it, and two lamps shine back from it.
  photo = 0.7 * photo + 0.3 * table;
  cv::Mat shine = cv::Mat::zeros(photo.size(), CV_8UC3);
  cv::ellipse(shine, {600, 480}, {120, 34}, 25, 0, 360, cv::Scalar::all(255), -1, cv::LINE_AA);
  cv::ellipse(shine, {880, 620}, {60, 90}, -10, 0, 360, cv::Scalar::all(255), -1, cv::LINE_AA);
  cv::GaussianBlur(shine, shine, {}, 14);
  shine.setTo(0, draw::covered(photo.size(), paper) < 128);
  photo += shine;
  draw::grain(photo, 2);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_GT(draw::overlap(outlines[0].polygon_px, paper), 0.93);
}

TEST(BadPicture, APhotographOfSomethingElseGivesNothingWithHighConfidence) {
  if (finder() == nullptr) return;
  cv::RNG chance(11);
  cv::Mat leaves(1100, 1600, CV_8UC3, cv::Scalar(40, 70, 35));
  for (int i = 0; i < 900; ++i)
    cv::ellipse(leaves, {chance.uniform(0, 1600), chance.uniform(0, 1100)}, {chance.uniform(20, 70), chance.uniform(8, 25)}, chance.uniform(0, 360), 0, 360,
                cv::Scalar(chance.uniform(20, 90), chance.uniform(60, 190), chance.uniform(20, 110)), -1, cv::LINE_AA);
  cv::Mat landscape(1100, 1600, CV_8UC3);
  for (int y = 0; y < 1100; ++y) landscape.row(y) = y < 600 ? cv::Scalar(235 - y / 8.0, 200 - y / 10.0, 150 - y / 12.0) : cv::Scalar(50, 90 + y / 20.0, 70);
  for (int i = 0; i < 5; ++i) {
    const int x = 320 * i + chance.uniform(-90, 90);
    cv::fillConvexPoly(landscape, std::vector<cv::Point>{{x - 300, 620}, {x, chance.uniform(250, 420)}, {x + 320, 620}}, cv::Scalar(110, 100, 90), cv::LINE_AA);
  }
  cv::Mat keys(1100, 1600, CV_8UC3, cv::Scalar(35, 35, 35));  // of a machine to write on
  for (int row = 0; row < 6; ++row)
    for (int key = 0; key < 14; ++key) cv::circle(keys, {70 + 112 * key + 30 * (row % 2), 120 + 170 * row}, 44, cv::Scalar(60, 62, 66), -1, cv::LINE_AA);
  for (cv::Mat* picture : {&leaves, &landscape, &keys}) {
    draw::grain(*picture, 3);
    for (const EnvelopeOutline& o : found_on(*picture)) EXPECT_LT(o.confidence, 0.8) << "picture " << (picture == &leaves ? "leaves" : picture == &landscape ? "landscape" : "keys");
  }
}

TEST(Frame, AnEnvelopeCutByTheFrameIsKeptAndFlagged) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1500, 1100}, kGrey);
  draw::envelope(photo, draw::turned(draw::rectangle(600, 420), 0, {150, 400}), kCream);
  draw::envelope(photo, draw::turned(draw::rectangle(600, 420), 0, {1000, 600}), kCream);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 2U);
  EXPECT_TRUE(outlines[0].cut_off);
  EXPECT_FALSE(outlines[1].cut_off);
}

TEST(Frame, OneEnvelopeMayFillMostOfIt) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1500, 1100}, kGrey);
  const Polygon paper = draw::turned(draw::rectangle(1200, 850), 2, {750, 550});
  draw::envelope(photo, paper, kCream);
  // Without a flap or a word on it, a sheet of that size is what envelopes lie on.
  draw::flap(photo, paper);
  cv::putText(photo, "Digne 14.VII.1904", {420, 500}, cv::FONT_HERSHEY_SCRIPT_COMPLEX, 2.2, cv::Scalar(40, 30, 30), 3, cv::LINE_AA);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 1U);
  EXPECT_GT(draw::overlap(outlines[0].polygon_px, paper), 0.95);
}

TEST(Frame, InAnOpenTinTheEnvelopesAreFoundNotTheTin) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({2000, 1400}, kGrey);
  draw::envelope(photo, draw::turned(draw::rectangle(1700, 1150), 1, {1000, 700}), cv::Scalar(190, 190, 185));
  draw::paper(photo, draw::turned(draw::rectangle(1620, 1070), 1, {1000, 700}), cv::Scalar(95, 110, 120));
  std::vector<Polygon> truth;
  for (int i = 0; i < 3; ++i) truth.push_back(draw::turned(draw::rectangle(380, 500), -3 + 3 * i, {480.0 + 500 * i, 700}));
  for (const Polygon& p : truth) draw::envelope(photo, p, kCream);
  const auto outlines = found_on(photo, {});
  EXPECT_EQ(outlines.size(), 3U);
  for (const Polygon& p : truth) EXPECT_GT(best_overlap(outlines, p), 0.9);
}

TEST(Order, RowsFromAboveEachFromTheLeft) {
  if (finder() == nullptr) return;
  cv::Mat photo = draw::table({1800, 1300}, kGrey);
  for (const Point at : {Point{1400, 330}, {350, 300}, {880, 360}, {1300, 900}, {400, 950}})
    draw::envelope(photo, draw::turned(draw::rectangle(420, 300), 0, at), kCream);
  const auto outlines = found_on(photo);
  ASSERT_EQ(outlines.size(), 5U);
  std::vector<int> x;
  for (std::size_t i = 0; i < outlines.size(); ++i) {
    EXPECT_EQ(outlines[i].number, static_cast<int>(i));
    x.push_back(static_cast<int>((outlines[i].polygon_px[0].x + outlines[i].polygon_px[2].x) / 2));
  }
  EXPECT_THAT(x, testing::ElementsAre(testing::Gt(340), testing::Gt(870), testing::Gt(1390), testing::Lt(410), testing::Gt(1290)));
  EXPECT_LT(x[0], x[1]);
  EXPECT_LT(x[1], x[2]);
}

}  // namespace
}  // namespace papillote::segmentation
