#include "stages/lines/lines.h"

#include <algorithm>
#include <cmath>
#include <iostream>
#include <numbers>

#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

#include "models/library.h"
#include "stages/lines/cores.h"

namespace papillote::lines {
namespace {

constexpr double kPxPerMm = 9;

// A sheet of paper on a darker table, with the grain that every photograph has.
class Drawn {
 public:
  Drawn(int width_px, int height_px) : photo_{cv::Mat(height_px + 80, width_px + 80, CV_8UC3, cv::Scalar(90, 100, 95))} {
    const cv::Rect paper(40, 40, width_px, height_px);
    photo_.bgr(paper) = cv::Scalar(205, 222, 228);
    cv::Mat grain(photo_.bgr.size(), CV_16SC3);
    cv::RNG random(7);
    random.fill(grain, cv::RNG::NORMAL, 0, 2.5);
    cv::add(photo_.bgr, grain, photo_.bgr, cv::noArray(), CV_8UC3);
    const auto x0 = double(paper.x), y0 = double(paper.y), x1 = double(paper.br().x), y1 = double(paper.br().y);
    envelope_.polygon_px = {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}};
    envelope_.crop = {Quad{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}}, width_px, height_px};
    calibration_.px_per_mm = kPxPerMm;
  }

  // Writes along `deg` (clockwise) with the baseline starting at (x, y) of the photograph; answers by the corners of the ink's box.
  std::vector<cv::Point2f> write(const std::string& text, double x, double y, double deg = 0, double scale = 1.0,
                                 cv::Scalar ink = {60, 45, 40}, int face = cv::FONT_HERSHEY_SCRIPT_COMPLEX, int thickness = 2) {
    cv::Mat turned;
    const double a = deg * std::numbers::pi / 180;
    const cv::Matx23d turn(std::cos(a), -std::sin(a), x - 100 * std::cos(a) + 200 * std::sin(a), std::sin(a), std::cos(a),
                           y - 100 * std::sin(a) - 200 * std::cos(a));
    cv::Mat wide = cv::Mat::zeros(400, 1600, CV_8U);
    cv::putText(wide, text, {100, 200}, face, scale, 255, thickness, cv::LINE_AA);
    cv::warpAffine(wide, turned, turn, photo_.bgr.size(), cv::INTER_LINEAR);
    photo_.bgr.setTo(ink, turned > 128);
    const cv::Rect box = cv::boundingRect(wide > 128);
    std::vector<cv::Point2f> corners;
    for (const cv::Point2d p : {cv::Point2d(box.x, box.y), cv::Point2d(box.br().x, box.y), cv::Point2d(box.br().x, box.br().y), cv::Point2d(box.x, box.br().y)})
      corners.emplace_back(float(turn(0, 0) * p.x + turn(0, 1) * p.y + turn(0, 2)), float(turn(1, 0) * p.x + turn(1, 1) * p.y + turn(1, 2)));
    return corners;
  }
  void stroke(cv::Point from, cv::Point to, cv::Scalar colour, int thickness = 2) {
    cv::line(photo_.bgr, from, to, colour, thickness, cv::LINE_AA);
  }
  cv::Mat& pixels() { return photo_.bgr; }
  LineLayout find(const models::CropNet& net) const { return find_lines(envelope_, calibration_, photo_, net).value(); }
  LineLayout find_without_scale(const models::CropNet& net) const { return find_lines(envelope_, {}, photo_, net).value(); }

 private:
  image::Image photo_;
  EnvelopeOutline envelope_;
  Calibration calibration_;
};

class Lines : public testing::Test {
 protected:
  // False, with one line printed, where the runtime is not installed.
  [[nodiscard]] bool net_there() {
    auto opened = models::CropNet::open(models::models_folder(), "lines");
    if (!opened.ok() && opened.failure().kind == "runtime_missing") {
      std::cout << "skipped: " << opened.failure().reason << "\n";
      return false;
    }
    EXPECT_TRUE(opened.ok()) << opened.failure().reason;
    if (opened.ok()) net_.emplace(std::move(opened).value());
    return net_.has_value();
  }
  [[nodiscard]] LineLayout in(const Drawn& drawn) const { return drawn.find(*net_); }
  [[nodiscard]] LineLayout without_scale_in(const Drawn& drawn) const { return drawn.find_without_scale(*net_); }

 private:
  std::optional<models::CropNet> net_;
};

// The polygon stands a third of a millimetre off the ink, so that a line of 4 mm overlaps its ink by 0.7 at most.
double overlap(const Polygon& found, const std::vector<cv::Point2f>& drawn) {
  std::vector<cv::Point2f> polygon, common;
  for (const Point& p : found) polygon.emplace_back(float(p.x), float(p.y));
  std::vector<cv::Point2f> a, b;
  cv::convexHull(polygon, a);
  cv::convexHull(drawn, b);
  const double both = cv::intersectConvexConvex(a, b, common);
  return both / (cv::contourArea(a) + cv::contourArea(b) - both);
}

double direction_deg(const TextLine& line) {
  return std::atan2(line.quad_px[1].y - line.quad_px[0].y, line.quad_px[1].x - line.quad_px[0].x) * 180 / std::numbers::pi;
}

TEST_F(Lines, StandInReadingOrder) {
  if (!net_there()) return;
  Drawn drawn(620, 420);
  const auto first = drawn.write("Papilio machaon", 120, 160);
  const auto second = drawn.write("Digne 640 m", 130, 230);
  const auto third = drawn.write("12.vii.1904", 140, 300);
  const LineLayout layout = in(drawn);
  ASSERT_EQ(layout.lines.size(), 3U);
  EXPECT_GT(overlap(layout.lines[0].polygon_px, first), 0.75);
  EXPECT_GT(overlap(layout.lines[1].polygon_px, second), 0.75);
  EXPECT_GT(overlap(layout.lines[2].polygon_px, third), 0.75);
  EXPECT_EQ(layout.paper, "plain");
}

TEST_F(Lines, AreFoundInAnyDirection) {
  if (!net_there()) return;
  for (const double deg : {-63.0, -28.0, 17.0, 45.0, 74.0}) {
    Drawn drawn(620, 620);
    const double a = deg * std::numbers::pi / 180;
    const double x = 350 - 160 * std::cos(a), y = 350 - 160 * std::sin(a);
    const auto one = drawn.write("Simplon Juli 1911", x, y, deg);
    const auto two = drawn.write("leg. Arnold", x - 70 * std::sin(a), y + 70 * std::cos(a), deg);
    const LineLayout layout = in(drawn);
    ASSERT_EQ(layout.lines.size(), 2U) << deg;
    EXPECT_GT(overlap(layout.lines[0].polygon_px, one), 0.6) << deg;
    EXPECT_GT(overlap(layout.lines[1].polygon_px, two), 0.6) << deg;
    EXPECT_NEAR(direction_deg(layout.lines[0]), deg, 3) << deg;
  }
}

TEST_F(Lines, OfTwoDirectionsAreToldApart) {
  if (!net_there()) return;
  Drawn drawn(640, 520);
  const auto level = drawn.write("Castellane, Juin", 100, 180);
  const auto upwards = drawn.write("COLL. 415", 600, 480, -90, 1.0, {60, 45, 40}, cv::FONT_HERSHEY_DUPLEX);
  const LineLayout layout = in(drawn);
  ASSERT_EQ(layout.lines.size(), 2U);
  const auto best = [&](const std::vector<cv::Point2f>& drawn_line) {
    return std::max(overlap(layout.lines[0].polygon_px, drawn_line), overlap(layout.lines[1].polygon_px, drawn_line));
  };
  EXPECT_GT(best(level), 0.6);
  EXPECT_GT(best(upwards), 0.6);
}

TEST_F(Lines, KeepTailsAndLoops) {
  if (!net_there()) return;
  Drawn drawn(620, 300);
  const auto line = drawn.write("gypsy joy lily fjell", 110, 190);
  const LineLayout layout = in(drawn);
  ASSERT_EQ(layout.lines.size(), 1U);
  // The strip to read holds the whole box of the ink.
  std::vector<cv::Point2f> strip;
  for (const Point& p : layout.lines[0].quad_px) strip.emplace_back(float(p.x), float(p.y));
  for (const cv::Point2f& corner : line) EXPECT_GE(cv::pointPolygonTest(strip, corner, true), -2.0);
}

TEST_F(Lines, AreNotRulesNorCreases) {
  if (!net_there()) return;
  Drawn drawn(620, 420);
  for (int y = 90; y < 440; y += 60) drawn.stroke({40, y}, {660, y}, {190, 170, 150});
  drawn.stroke({40, 40}, {330, 460}, {150, 165, 172}, 3);
  drawn.stroke({600, 50}, {655, 110}, {120, 130, 135}, 3);
  EXPECT_TRUE(in(drawn).lines.empty());
}

TEST_F(Lines, AreFoundOnRuledPaper) {
  if (!net_there()) return;
  Drawn drawn(620, 420);
  for (int y = 90; y < 440; y += 60) drawn.stroke({40, y}, {660, y}, {190, 170, 150});
  const auto one = drawn.write("Barcelonnette", 120, 175);
  const auto two = drawn.write("4 Aout 1899", 120, 295);
  const LineLayout layout = in(drawn);
  ASSERT_EQ(layout.lines.size(), 2U);
  EXPECT_GT(overlap(layout.lines[0].polygon_px, one), 0.6);
  EXPECT_GT(overlap(layout.lines[1].polygon_px, two), 0.6);
}

TEST_F(Lines, AreNotSoftStains) {
  if (!net_there()) return;
  Drawn drawn(620, 420);
  cv::Mat stain = cv::Mat::zeros(drawn.pixels().size(), CV_32F);
  cv::ellipse(stain, {350, 250}, {110, 60}, 20, 0, 360, 1.0, cv::FILLED);
  cv::ellipse(stain, {200, 150}, {30, 45}, 0, 0, 360, 1.0, cv::FILLED);
  cv::GaussianBlur(stain, stain, {0, 0}, 14);
  for (int y = 0; y < stain.rows; ++y)
    for (int x = 0; x < stain.cols; ++x) drawn.pixels().at<cv::Vec3b>(y, x) *= 1 - 0.45F * stain.at<float>(y, x);
  EXPECT_TRUE(in(drawn).lines.empty());
}

TEST_F(Lines, AreNotWingsSeenThroughGlassine) {
  if (!net_there()) return;
  Drawn drawn(720, 520);
  // Two wings: veins from the root, a dark margin, rows of eyespots; the glassine before them makes all of it soft and pale.
  cv::Mat wings = drawn.pixels().clone();
  for (const int side : {-1, 1}) {
    const cv::Point root(400 + 25 * side, 330);
    cv::ellipse(wings, root + cv::Point(105 * side, -60), {150, 95}, -30 * side, 0, 360, cv::Scalar(70, 120, 190), -1, cv::LINE_AA);
    cv::ellipse(wings, root + cv::Point(105 * side, -60), {150, 95}, -30 * side, 0, 360, cv::Scalar(40, 45, 55), 14, cv::LINE_AA);
    for (int vein = 0; vein < 7; ++vein)
      cv::line(wings, root, root + cv::Point(cvRound(side * 220 * std::cos(0.16 * vein)), cvRound(-190 * std::sin(0.16 * vein + 0.1))), cv::Scalar(45, 60, 80), 3, cv::LINE_AA);
    for (int spot = 0; spot < 5; ++spot) cv::circle(wings, root + cv::Point(side * (70 + 32 * spot), -40 - 16 * spot), 11, cv::Scalar(30, 30, 35), -1, cv::LINE_AA);
  }
  cv::GaussianBlur(wings, wings, {}, 4);
  cv::addWeighted(drawn.pixels(), 0.55, wings, 0.45, 0, drawn.pixels());
  const auto annotation = drawn.write("Lugano 1907", 90, 130, 0, 1.3);
  const LineLayout layout = in(drawn);
  ASSERT_EQ(layout.lines.size(), 1U);
  EXPECT_GT(overlap(layout.lines.front().polygon_px, annotation), 0.5);
}

TEST_F(Lines, AreToldFromNewsprint) {
  if (!net_there()) return;
  Drawn drawn(720, 560);
  for (int row = 0; row < 22; ++row) {
    drawn.write("the mail steamer was delayed by fog", 50, 70 + 24 * row, 0, 0.6, {105, 115, 120}, cv::FONT_HERSHEY_COMPLEX_SMALL, 1);
    drawn.write("and the price of oats fell again", 420, 70 + 24 * row, 0, 0.6, {105, 115, 120}, cv::FONT_HERSHEY_COMPLEX_SMALL, 1);
  }
  const auto annotation = drawn.write("Lugano 1907", 180, 440, -40, 1.6, {90, 25, 20}, cv::FONT_HERSHEY_SCRIPT_COMPLEX, 3);
  const LineLayout layout = in(drawn);
  EXPECT_EQ(layout.paper, "newsprint");
  const auto is_print = [](const TextLine& line) { return line.kind == LineKind::newsprint; };
  EXPECT_GE(std::count_if(layout.lines.begin(), layout.lines.end(), is_print), 15);
  ASSERT_FALSE(layout.lines.empty());
  EXPECT_FALSE(is_print(layout.lines.front()));
  EXPECT_GT(overlap(layout.lines.front().polygon_px, annotation), 0.5);
  EXPECT_TRUE(std::is_partitioned(layout.lines.begin(), layout.lines.end(), [&](const TextLine& l) { return !is_print(l); }));
}

TEST_F(Lines, OnNothingAreNone) {
  if (!net_there()) return;
  EXPECT_TRUE(in(Drawn(620, 420)).lines.empty());
  EXPECT_TRUE(in(Drawn(12, 9)).lines.empty());
  EXPECT_TRUE(without_scale_in(Drawn(620, 420)).lines.empty());
}

TEST_F(Lines, AreFoundWithoutAScale) {
  if (!net_there()) return;
  Drawn drawn(640, 420);
  const auto line = drawn.write("Gavarnie 1902", 120, 200, 0, 1.2);
  const LineLayout layout = without_scale_in(drawn);
  ASSERT_EQ(layout.lines.size(), 1U);
  EXPECT_GT(overlap(layout.lines[0].polygon_px, line), 0.7);
}

// Maps as a net would give them for lines drawn by hand: what becomes of them does not depend on what the net has learnt.
class Maps {
 public:
  Maps() {
    marks_.paper = cv::Mat(200, 300, CV_8U, cv::Scalar(255));
    marks_.px_per_mm = 2.5;
    marks_.photo_from_map = cv::Matx33d::eye();
    for (std::size_t k = 0; k < kChannels; ++k) marks_.maps.emplace_back(200, 300, CV_32F, cv::Scalar(k == kCore || k >= kFirstKind ? -8 : 0));
  }
  void line(cv::Point2d from, double deg, double length, double height, std::size_t kind) {
    const double a = deg * std::numbers::pi / 180;
    for (int y = 0; y < 200; ++y)
      for (int x = 0; x < 300; ++x) {
        const cv::Point2d d = cv::Point2d(x + 0.5, y + 0.5) - from;
        const double u = d.x * std::cos(a) + d.y * std::sin(a), v = d.y * std::cos(a) - d.x * std::sin(a);
        if (u < 0.15 * height || u > length - 0.15 * height || std::abs(v) > 0.22 * height) continue;
        marks_.maps[kCore].at<float>(y, x) = 8;
        marks_.maps[kFirstKind + kind].at<float>(y, x) = 0;
        marks_.maps[kCosine].at<float>(y, x) = static_cast<float>(std::cos(a));
        marks_.maps[kSine].at<float>(y, x) = static_cast<float>(std::sin(a));
        marks_.maps[kAbove].at<float>(y, x) = static_cast<float>((height / 2 + v) / 4);
        marks_.maps[kBelow].at<float>(y, x) = static_cast<float>((height / 2 - v) / 4);
      }
  }
  [[nodiscard]] std::vector<Core> gathered() const { return gather(marks_); }

 private:
  models::CropMarks marks_;
};

TEST(Cores, GiveTheWholeLineInItsReadingDirection) {
  for (const double deg : {0.0, 31.0, 90.0, 180.0, -120.0}) {
    Maps maps;
    const double a = deg * std::numbers::pi / 180;
    const cv::Point2d from(150 - 60 * std::cos(a), 100 - 60 * std::sin(a));
    maps.line(from, deg, 120, 16, 1);
    const auto cores = maps.gathered();
    ASSERT_EQ(cores.size(), 1U) << deg;
    EXPECT_NEAR(std::remainder(cores[0].along_deg - deg, 360), 0, 0.5) << deg;
    EXPECT_NEAR(cores[0].length(), 120, 2.5) << deg;
    EXPECT_NEAR(cores[0].height(), 16, 0.5) << deg;
    EXPECT_GT(cores[0].kinds[1], 0.9) << deg;
  }
}

TEST(Cores, BridgeAGapWithinALineAndKeepNeighboursApart) {
  Maps maps;
  maps.line({20, 50}, 0, 80, 16, 0);
  maps.line({112, 51}, 0, 90, 16, 0);   // the same line, a wide blank later
  maps.line({20, 72}, 0, 150, 16, 0);   // the next line
  maps.line({250, 50}, 0, 30, 16, 0);   // far to the right: another line
  EXPECT_EQ(maps.gathered().size(), 3U);
}

TEST(Cores, CrossingLinesAndNewsprintStayApart) {
  Maps maps;
  for (int row = 0; row < 6; ++row) maps.line({20, 40.0 + 20 * row}, 0, 240, 8, 4);
  maps.line({60, 150}, -40, 150, 24, 0);
  const auto cores = maps.gathered();
  EXPECT_EQ(std::count_if(cores.begin(), cores.end(), [](const Core& c) { return !c.newsprint(); }), 1);
  for (const Core& core : cores) EXPECT_NEAR(std::remainder(core.along_deg, 360), core.newsprint() ? 0 : -40, 2);
}

}  // namespace
}  // namespace papillote::lines
