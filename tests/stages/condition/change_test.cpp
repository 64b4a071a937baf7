// An envelope drawn twice: turned, at another scale and with its findings as they were, or larger.
#include "stages/condition/change.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace papillote::condition {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::Pair;

constexpr const char* kThen = "2019-05-02T10:00:00";

Polygon round(Point middle, double radius) {
  Polygon polygon;
  for (int i = 0; i < 24; ++i) {
    const double angle = i * CV_PI / 12;
    polygon.push_back({middle.x + radius * std::cos(angle), middle.y + radius * std::sin(angle)});
  }
  return polygon;
}

Finding finding(const std::string& kind, int severity, Point middle_mm, double radius_mm, double confidence = 0.9) {
  return {kind, severity, confidence, round(middle_mm, radius_mm), 2 * radius_mm, ""};
}

// An envelope of 70 x 50 mm, a folded triangle, photographed at `scale` pixels a millimetre and turned by `deg`.
IndexRecord photographed(std::vector<Finding> findings_mm, double scale, double deg) {
  const double c = scale * std::cos(deg * CV_PI / 180), s = scale * std::sin(deg * CV_PI / 180);
  const cv::Matx33d photo_from_mm{c, -s, 900, s, c, 700, 0, 0, 1};
  IndexRecord record;
  record.outline.polygon_px = image::carried({{0, 0}, {70, 0}, {70, 50}}, photo_from_mm);
  const Polygon corners = image::carried({{0, 0}, {70, 0}, {70, 50}, {0, 50}}, photo_from_mm);
  std::copy(corners.begin(), corners.end(), record.outline.crop.quad_px.begin());
  record.outline.crop.width_px = static_cast<int>(70 * scale);
  record.outline.crop.height_px = static_cast<int>(50 * scale);
  record.outline.size_mm = Point{70, 50};
  for (Finding& each : findings_mm) {
    each.polygon_px = image::carried(each.polygon_px, photo_from_mm);
    record.condition.findings.push_back(std::move(each));
  }
  return record;
}

// The same envelope as a picture: paper on a dark table, with writing, and round stains.
image::Image picture(const std::vector<std::pair<Point, double>>& stains_mm, double scale, double deg, double light = 1) {
  const double c = scale * std::cos(deg * CV_PI / 180), s = scale * std::sin(deg * CV_PI / 180);
  const cv::Matx33d photo_from_mm{c, -s, 900, s, c, 700, 0, 0, 1};
  image::Image photo;
  photo.bgr = cv::Mat(1500, 1800, CV_8UC3, cv::Scalar(60, 60, 60) * light);
  const auto fill = [&](const Polygon& mm, const cv::Scalar& tone) {
    std::vector<cv::Point> px;
    for (const Point& p : image::carried(mm, photo_from_mm)) px.emplace_back(cvRound(p.x), cvRound(p.y));
    cv::fillPoly(photo.bgr, std::vector<std::vector<cv::Point>>{px}, tone * light, cv::LINE_AA);
  };
  fill({{0, 0}, {70, 0}, {70, 50}}, {190, 210, 220});
  for (int i = 0; i < 5; ++i)
    fill({{20 + 6.0 * i, 8}, {22 + 6.0 * i, 8}, {24 + 6.0 * i, 11}, {22 + 6.0 * i, 11}}, {70, 60, 60});
  for (const auto& [middle, radius] : stains_mm) fill(round(middle, radius), {110, 140, 160});
  cv::GaussianBlur(photo.bgr, photo.bgr, {}, 1.2);
  return photo;
}

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
