#include "stages/segmentation/instances.h"

#include <cmath>
#include <utility>
#include <vector>

#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

#include "stages/segmentation/outline.h"

namespace papillote::segmentation {
namespace {

// Marks as a network that errs nowhere would make them: envelopes one on another, the last on top.
class Drawn {
 public:
  explicit Drawn(cv::Size size) : id_(cv::Mat::zeros(size, CV_32S)) {}

  void lay(const Shape& shape) {
    cv::Mat whole = cv::Mat::zeros(id_.size(), CV_8U);  // OpenCV's own filling makes shapes up to a pixel larger
    for (int y = 0; y < whole.rows; ++y)
      for (int x = 0; x < whole.cols; ++x)
        if (contains(shape, {x + 0.5, y + 0.5})) whole.at<uchar>(y, x) = 255;
    id_.setTo(static_cast<int>(wholes_.size()) + 1, whole);
    wholes_.push_back(whole);
  }

  [[nodiscard]] Marks marks() const {
    Marks marks;
    id_.convertTo(marks.paper, CV_32F);
    marks.paper = cv::min(marks.paper, 1.0);
    marks.edge = cv::Mat::zeros(id_.size(), CV_32F);
    marks.covered = marks.edge.clone();
    marks.to_middle = cv::Mat::zeros(id_.size(), CV_32FC2);
    marks.to_full_middle = marks.to_middle.clone();
    for (int y = 1; y + 1 < id_.rows; ++y)
      for (int x = 1; x + 1 < id_.cols; ++x)
        for (const auto& [dx, dy] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}})
          if (id_.at<int>(y + dy, x + dx) != id_.at<int>(y, x)) marks.edge.at<float>(y, x) = 1;
    for (std::size_t i = 0; i < wholes_.size(); ++i) {
      const cv::Mat seen = id_ == static_cast<int>(i) + 1;
      cv::Mat near;
      cv::dilate(wholes_[i] & ~seen, near, cv::Mat::ones(7, 7, CV_8U));
      marks.covered.setTo(1, near & seen);
      const auto point_at_middle = [&](const cv::Mat& of, cv::Mat& offsets) {
        const cv::Moments m = cv::moments(of, true);
        for (int y = 0; y < id_.rows; ++y)
          for (int x = 0; x < id_.cols; ++x)
            if (seen.at<uchar>(y, x)) offsets.at<cv::Vec2f>(y, x) = {float(m.m10 / m.m00 - x), float(m.m01 / m.m00 - y)};
      };
      point_at_middle(seen, marks.to_middle);
      point_at_middle(wholes_[i], marks.to_full_middle);
    }
    return marks;
  }

 private:
  cv::Mat id_;
  std::vector<cv::Mat> wholes_;
};

Shape box(double x, double y, double w, double h) { return {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}; }

cv::Mat nothing(const Marks& marks) { return cv::Mat::zeros(marks.paper.size(), CV_8U); }

TEST(Instances, EnvelopesThatTouchAlongASideAreTwo) {
  Drawn drawn({200, 120});
  drawn.lay(box(20, 20, 60, 70));
  drawn.lay(box(80, 25, 70, 70));
  const Marks marks = drawn.marks();
  const auto found = instances_of(marks, nothing(marks));
  ASSERT_EQ(found.size(), 2U);
  EXPECT_NEAR(found[0].area_px, 60 * 70, 1);
  EXPECT_GT(found[0].closed, 0.95);
}

TEST(Instances, AGapInTheEdgeBetweenTwoDoesNotJoinThem) {
  Drawn drawn({200, 120});
  drawn.lay(box(20, 20, 60, 70));
  drawn.lay(box(80, 25, 70, 70));
  Marks marks = drawn.marks();
  marks.edge(cv::Rect(76, 50, 8, 2)).setTo(0);
  EXPECT_EQ(instances_of(marks, nothing(marks)).size(), 2U);
}

TEST(Instances, AFoldTakenForAnEdgeDoesNotPartWhatPointsAtOneMiddle) {
  Drawn drawn({200, 120});
  drawn.lay(box(20, 20, 120, 70));
  Marks marks = drawn.marks();
  marks.edge(cv::Rect(80, 20, 2, 70)).setTo(0.6);
  const auto found = instances_of(marks, nothing(marks));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].area_px, 120 * 70, 1);
}

TEST(Instances, WhatIsIgnoredIsNoEnvelope) {
  Drawn drawn({200, 120});
  drawn.lay(box(20, 20, 60, 70));
  const Marks marks = drawn.marks();
  EXPECT_TRUE(instances_of(marks, cv::Mat(marks.paper.size(), CV_8U, cv::Scalar(255))).empty());
}

TEST(Outline, CornersLieWithinHalfAPixel) {
  const double c = std::cos(0.3), s = std::sin(0.3);
  Shape turned;
  for (const auto& [x, y] : {std::pair{-50.0, -30.0}, {50.0, -30.0}, {50.0, 30.0}, {-50.0, 30.0}}) turned.emplace_back(100 + x * c - y * s, 70 + x * s + y * c);
  Drawn drawn({200, 140});
  drawn.lay(turned);
  const Marks marks = drawn.marks();
  const auto found = instances_of(marks, nothing(marks));
  ASSERT_EQ(found.size(), 1U);
  const Outline outline = outline_of(found[0]);
  ASSERT_EQ(outline.corners.size(), 4U);
  for (const cv::Point2d& corner : turned) {
    double nearest = 1e9;
    for (const cv::Point2d& p : outline.corners) nearest = std::min(nearest, cv::norm(p - corner));
    EXPECT_LT(nearest, 0.5);
  }
  EXPECT_TRUE(completed(outline.corners, outline.own, found[0].full_middle).empty()) << "all of it is seen";
}

double same(const Shape& one, const Shape& other) {
  const double common = overlap_area(one, other);
  return common / (area_of(one) + area_of(other) - common);
}

TEST(Outline, ACornerThatTheSidesOnlyPromiseIsLeftOut) {
  const Shape whole = box(20, 20, 100, 60);
  const Shape torn{{20, 20}, {106, 20}, {120, 31}, {120, 80}, {20, 80}};
  for (const Shape& shape : {whole, torn}) {
    Drawn drawn({150, 110});
    drawn.lay(shape);
    const Marks marks = drawn.marks();
    const auto found = instances_of(marks, nothing(marks));
    ASSERT_EQ(found.size(), 1U);
    const Shape left = without_lost_corners(whole, found[0]);
    EXPECT_EQ(left.size(), shape.size());
    EXPECT_GT(same(left, shape), 0.995);
  }
}

struct Hidden {
  const char* name;
  Shape whole, on_top;
};

class Completed : public testing::TestWithParam<Hidden> {};

TEST_P(Completed, HiddenPartsAreInferred) {
  Drawn drawn({240, 200});
  drawn.lay(GetParam().whole);
  drawn.lay(GetParam().on_top);
  const Marks marks = drawn.marks();
  const auto found = instances_of(marks, nothing(marks));
  ASSERT_GE(found.size(), 2U);
  double best = 0;
  for (const Instance& instance : found) {
    const Outline outline = outline_of(instance);
    const Shape whole = completed(outline.corners, outline.own, instance.full_middle);
    if (!whole.empty()) best = std::max(best, same(whole, GetParam().whole));
  }
  EXPECT_GT(best, 0.93);
}

INSTANTIATE_TEST_SUITE_P(Ways, Completed,
                         testing::Values(Hidden{"corner", box(30, 30, 120, 80), box(110, 80, 90, 80)},
                                         Hidden{"end", box(30, 30, 140, 80), box(110, 15, 110, 120)},
                                         Hidden{"triangles_tip", {{30, 130}, {110, 50}, {190, 130}}, box(130, 85, 90, 90)}),
                         [](const auto& tested) { return std::string(tested.param.name); });

}  // namespace
}  // namespace papillote::segmentation
