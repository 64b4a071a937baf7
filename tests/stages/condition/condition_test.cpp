// Small drawn sheets: what is drawn is known to the tenth of a millimetre.
#include "stages/condition/condition.h"

#include <cmath>
#include <iostream>
#include <optional>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

#include "models/library.h"
#include "pipeline/image/image.h"

namespace papillote::condition {
namespace {

using testing::IsEmpty;
using testing::Not;
using testing::UnorderedElementsAre;

constexpr double kPxPerMm = 10;
const cv::Rect kPaper(200, 200, 700, 500);  // 70 x 50 mm

// Cream paper on a blue-grey table, both with the grain of a photograph.
struct Sheet {
  cv::Mat photo = cv::Mat(900, 1100, CV_8UC3, cv::Scalar(112, 96, 84));
  EnvelopeOutline envelope;
  Calibration calibration;
  LineLayout written;

  Sheet() {
    cv::rectangle(photo, kPaper, cv::Scalar(198, 222, 232), cv::FILLED);
    envelope.polygon_px = {{200, 200}, {900, 200}, {900, 700}, {200, 700}};
    envelope.crop = {{Point{200, 200}, Point{900, 200}, Point{900, 700}, Point{200, 700}}, 700, 500};
    envelope.shape = "rectangle";
    envelope.size_mm = Point{70, 50};
    envelope.confidence = 1;
    calibration.px_per_mm = kPxPerMm;
    written.paper = "plain";
  }

  Condition judged(const models::CropNet& net) const {
    cv::Mat seen;
    cv::GaussianBlur(photo, seen, {}, 0.8);
    cv::RNG random(7);
    cv::Mat noise(seen.size(), CV_16SC3);
    random.fill(noise, cv::RNG::NORMAL, 0, 2);
    cv::add(seen, noise, seen, cv::noArray(), CV_8UC3);
    return assess(envelope, written, calibration, {seen}, net).value();
  }
};

// The net is opened once; nothing, with one line printed, where the runtime is not installed.
const models::CropNet* net() {
  static const auto opened = models::CropNet::open(models::models_folder(), "damage");
  if (!opened.ok()) {
    std::cout << "skipped: " << opened.failure().reason << "\n";
    EXPECT_EQ(opened.failure().kind, "runtime_missing");
    return nullptr;
  }
  return &*opened;
}

// Of the findings that count.
std::vector<std::string> kinds(const Condition& condition) {
  std::vector<std::string> out;
  for (const Finding& finding : condition.findings)
    if (finding.sure()) out.push_back(finding.kind);
  return out;
}

TEST(Condition, SoundPaperGivesNothing) {
  if (net() == nullptr) return;
  const Condition condition = Sheet().judged(*net());
  EXPECT_TRUE(condition.judged);
  EXPECT_THAT(kinds(condition), IsEmpty());
}

// The sheet's paper lifted into a round hill, under light that falls 35 degrees above the table (Lambert's cosine law).
void lift_paper(Sheet& sheet, double height_mm) {
  constexpr double kSpread_mm = 13, kAbove = 35 * CV_PI / 180, kFrom = 130 * CV_PI / 180;
  const cv::Vec3d light(std::cos(kAbove) * std::cos(kFrom), -std::cos(kAbove) * std::sin(kFrom), std::sin(kAbove));
  const cv::Point2d middle = cv::Point2d(kPaper.tl() + kPaper.br()) / 2;
  for (int y = kPaper.y; y < kPaper.br().y; ++y)
    for (int x = kPaper.x; x < kPaper.br().x; ++x) {
      const double dx = (x - middle.x) / kPxPerMm, dy = (y - middle.y) / kPxPerMm;
      const double hill = height_mm * std::exp(-(dx * dx + dy * dy) / (2 * kSpread_mm * kSpread_mm));
      const cv::Vec3d normal = cv::normalize(cv::Vec3d(dx * hill, dy * hill, kSpread_mm * kSpread_mm));
      const double linear = std::max(0.0, normal.dot(light)) / light[2];
      sheet.photo.at<cv::Vec3b>(y, x) *= std::pow(linear, 1 / 2.2);
    }
}

TEST(Condition, PaperLiftedByWhatLiesWithinBulges) {
  if (net() == nullptr) return;
  using testing::Contains;
  using testing::StartsWith;
  Sheet lifted, nearly_flat, unevenly_lit;
  lift_paper(lifted, 3);
  lift_paper(nearly_flat, 0.4);
  for (int x = 0; x < unevenly_lit.photo.cols; ++x) unevenly_lit.photo.col(x) *= 0.8 + 0.2 * x / unevenly_lit.photo.cols;
  EXPECT_THAT(lifted.judged(*net()).fragility, Contains(StartsWith("bulging:")));
  EXPECT_THAT(nearly_flat.judged(*net()).fragility, Not(Contains(StartsWith("bulging:"))));
  EXPECT_THAT(unevenly_lit.judged(*net()).fragility, Not(Contains(StartsWith("bulging:"))));
}

TEST(Condition, AFoldALineOfPrintAndARulingAreNoDamage) {
  if (net() == nullptr) return;
  Sheet sheet;
  cv::line(sheet.photo, {200, 420}, {900, 430}, cv::Scalar(176, 200, 210), 3);
  cv::line(sheet.photo, {200, 424}, {900, 434}, cv::Scalar(212, 234, 243), 3);
  for (int y = 240; y < 700; y += 80) cv::line(sheet.photo, {200, y}, {900, y}, cv::Scalar(200, 190, 170), 2);
  cv::putText(sheet.photo, "Sikkim, 12.vi.1903", {260, 600}, cv::FONT_HERSHEY_SIMPLEX, 1.6, cv::Scalar(50, 40, 40), 4, cv::LINE_AA);
  TextLine line;
  line.polygon_px = {{250, 540}, {800, 540}, {800, 625}, {250, 625}};
  sheet.written.lines.push_back(line);
  EXPECT_THAT(kinds(sheet.judged(*net())), IsEmpty());
}

// Damage knows no left and right; the sheet lies in the middle of its photograph.
TEST(Condition, AMirroredPhotographIsJudgedAlike) {
  if (net() == nullptr) return;
  Sheet sheet, mirrored;
  cv::circle(sheet.photo, {400, 400}, 14, cv::Scalar(112, 96, 84), cv::FILLED, cv::LINE_AA);
  cv::ellipse(sheet.photo, {640, 520}, {90, 60}, 20, 0, 360, cv::Scalar(120, 170, 200), 6, cv::LINE_AA);
  cv::flip(sheet.photo, mirrored.photo, 1);
  const auto judged = [](const Sheet& s) { return assess(s.envelope, s.written, s.calibration, {s.photo}, *net()).value().findings; };
  const std::vector<Finding> findings = judged(sheet), of_mirrored = judged(mirrored);
  ASSERT_THAT(findings, Not(IsEmpty()));
  ASSERT_EQ(findings.size(), of_mirrored.size());
  for (std::size_t i = 0; i < findings.size(); ++i) {
    EXPECT_EQ(findings[i].kind, of_mirrored[i].kind);
    EXPECT_NEAR(findings[i].confidence, of_mirrored[i].confidence, 0.03) << findings[i].kind;
    const auto middle = [](const Finding& f) { return centroid_of(f.polygon_px); };
    EXPECT_NEAR(middle(findings[i]).x, 1100 - middle(of_mirrored[i]).x, 2) << findings[i].kind;
  }
}

class HoleOf : public testing::TestWithParam<double> {};

TEST_P(HoleOf, KnownDiameterIsMeasured) {
  if (net() == nullptr) return;
  Sheet sheet;
  // Drawn with sixteenths of a pixel.
  cv::circle(sheet.photo, {480 * 16, 410 * 16}, cvRound(GetParam() * kPxPerMm / 2 * 16), cv::Scalar(112, 96, 84), cv::FILLED, cv::LINE_AA, 4);
  const Condition condition = sheet.judged(*net());
  ASSERT_THAT(kinds(condition), UnorderedElementsAre("hole"));
  ASSERT_TRUE(condition.findings[0].size_mm);
  EXPECT_NEAR(*condition.findings[0].size_mm, GetParam(), 0.3);
  const Point middle = centroid_of(condition.findings[0].polygon_px);
  EXPECT_NEAR(middle.x, 480, 4);
  EXPECT_NEAR(middle.y, 410, 4);
}

INSTANTIATE_TEST_SUITE_P(Condition, HoleOf, testing::Values(1.2, 2.0, 3.0, 5.0));

TEST(Condition, HolesThatTouchAreCountedAndMeasuredEach) {
  if (net() == nullptr) return;
  Sheet sheet;
  for (const cv::Point& middle : {cv::Point(460, 410), cv::Point(497, 418)})
    cv::circle(sheet.photo, middle, 20, cv::Scalar(112, 96, 84), cv::FILLED, cv::LINE_AA);
  const Condition condition = sheet.judged(*net());
  ASSERT_THAT(kinds(condition), UnorderedElementsAre("hole", "hole"));
  for (const Finding& finding : condition.findings) EXPECT_NEAR(finding.size_mm.value_or(0), 4, 0.5);
}

TEST(Condition, WithoutScaleSizesAreLeftOut) {
  if (net() == nullptr) return;
  Sheet sheet;
  sheet.calibration.px_per_mm.reset();
  sheet.envelope.size_mm.reset();
  cv::circle(sheet.photo, {480, 410}, 15, cv::Scalar(112, 96, 84), cv::FILLED, cv::LINE_AA);
  const Condition condition = sheet.judged(*net());
  ASSERT_THAT(kinds(condition), UnorderedElementsAre("hole"));
  EXPECT_FALSE(condition.findings[0].size_mm);
  EXPECT_THAT(condition.findings[0].words, Not(testing::HasSubstr("mm")));
}

TEST(Condition, ATornEdgeIsFound) {
  if (net() == nullptr) return;
  Sheet sheet;
  const std::vector<cv::Point> gap{{520, 195}, {545, 195}, {541, 240}, {548, 290}, {540, 330}, {533, 290}, {530, 240}};
  cv::fillPoly(sheet.photo, std::vector<std::vector<cv::Point>>{gap}, cv::Scalar(112, 96, 84), cv::LINE_AA);
  EXPECT_THAT(kinds(sheet.judged(*net())), UnorderedElementsAre("tear"));
}

TEST(Condition, ARegionEndsWhereTheDamageEnds) {
  if (net() == nullptr) return;
  Sheet sheet;
  const cv::Rect all({}, sheet.photo.size());
  cv::Mat drawn = cv::Mat::zeros(sheet.photo.size(), CV_8U), said = drawn.clone();
  cv::circle(drawn, {480, 410}, 20, cv::Scalar(255), cv::FILLED);
  sheet.photo.setTo(cv::Scalar(112, 96, 84), drawn);
  const Condition condition = sheet.judged(*net());
  ASSERT_THAT(kinds(condition), UnorderedElementsAre("hole"));
  said.setTo(255, image::inside_of(condition.findings[0].polygon_px, all));
  EXPECT_GT(cv::countNonZero(drawn & said), 0.6 * cv::countNonZero(drawn | said));
}

TEST(Condition, APhotographToTakeAgainIsNotJudged) {
  if (net() == nullptr) return;
  Sheet sheet;
  sheet.calibration.quality.verdict = "retake";
  sheet.calibration.quality.reasons = {"blurred"};
  const Condition condition = sheet.judged(*net());
  EXPECT_FALSE(condition.judged);
  EXPECT_EQ(condition.why_not, "blurred");
  EXPECT_THAT(condition.findings, IsEmpty());
}

TEST(Condition, SaysWhatOfAnEnvelopeDoesNotShow) {
  if (net() == nullptr) return;
  EXPECT_EQ(Sheet().judged(*net()).why_not, "");
  Sheet cut;
  cut.envelope.cut_off = true;
  EXPECT_EQ(cut.judged(*net()).why_not, "the photograph cuts it off");
  Sheet covered;
  covered.envelope.whole_px = covered.envelope.polygon_px;
  EXPECT_EQ(covered.judged(*net()).why_not, "");
  covered.envelope.polygon_px = {{200, 200}, {900, 200}, {900, 500}, {200, 500}};
  EXPECT_EQ(covered.judged(*net()).why_not, "another lies on 40 % of it");
  Sheet glare;
  cv::rectangle(glare.photo, {200, 200, 350, 500}, cv::Scalar::all(255), cv::FILLED);
  EXPECT_THAT(glare.judged(*net()).why_not, testing::HasSubstr("overexposed"));
}

TEST(Condition, TheSameAnswerTwice) {
  if (net() == nullptr) return;
  Sheet sheet;
  cv::circle(sheet.photo, {480, 410}, 12, cv::Scalar(112, 96, 84), cv::FILLED, cv::LINE_AA);
  EXPECT_EQ(sheet.judged(*net()), sheet.judged(*net()));
}

}  // namespace
}  // namespace papillote::condition
