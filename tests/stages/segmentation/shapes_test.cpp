#include "stages/segmentation/shapes.h"

#include <gtest/gtest.h>

namespace papillote::segmentation {
namespace {

const Shape kSquare{{0, 0}, {10, 0}, {10, 10}, {0, 10}};

Shape moved(Shape shape, cv::Point2d by) {
  for (cv::Point2d& p : shape) p += by;
  return shape;
}

TEST(OverlapArea, OfSquares) {
  EXPECT_DOUBLE_EQ(overlap_area(kSquare, kSquare), 100);
  EXPECT_DOUBLE_EQ(overlap_area(kSquare, moved(kSquare, {4, 3})), 42);
  EXPECT_DOUBLE_EQ(overlap_area(kSquare, moved(kSquare, {10, 0})), 0);
  EXPECT_DOUBLE_EQ(overlap_area(kSquare, moved(kSquare, {30, 0})), 0);
  EXPECT_NEAR(overlap_area(kSquare, moved(kSquare, {1e-9, 0})), 100, 1e-6);  // sides that nearly coincide
  EXPECT_DOUBLE_EQ(overlap_area(kSquare, {{2, 2}, {5, 2}, {2, 5}}), 4.5);
}

TEST(Around, GivesTheTriangleBackFromACutCorner) {
  const Shape cut{{0, 0}, {95, 95}, {90, 100}, {-90, 100}, {-95, 95}};
  const auto triangle = around(cut, 3);
  ASSERT_TRUE(triangle);
  EXPECT_EQ(triangle->size(), 3U);
  EXPECT_NEAR(area_of(*triangle), 10'000, 1);
  EXPECT_FALSE(around({{0, 0}, {100, 0}, {100, 50}, {0, 50}}, 3));  // parallel sides never meet
}

TEST(Convex, CrossedAndDentedAreNot) {
  EXPECT_TRUE(is_convex(kSquare));
  EXPECT_FALSE(is_convex({{0, 0}, {10, 10}, {10, 0}, {0, 10}}));
  EXPECT_FALSE(is_convex({{0, 0}, {10, 0}, {5, 4}, {0, 10}}));
  EXPECT_FALSE(is_convex({{0, 0}, {0, 10}, {10, 10}, {10, 0}}));  // runs the other way
}

TEST(Names, OfTheTrade) {
  EXPECT_EQ(name_of({{0, 0}, {10, 0}, {0, 10}}), "triangle");
  EXPECT_EQ(name_of(kSquare), "rectangle");
  EXPECT_EQ(name_of({{2, 0}, {8, 0}, {10, 5}, {0, 5}}), "trapezoid");
  EXPECT_EQ(name_of({{2, 1}, {8, 0}, {10, 9}, {0, 5}}), "polygon");
}

TEST(Frame, LiesAlongTheShapesOwnSides) {
  const auto triangle = frame_of({{0, 0}, {20, 0}, {10, 10}});  // longest side above: the frame stands on its head
  ASSERT_EQ(triangle.size(), 4U);
  EXPECT_NEAR(cv::norm(triangle[0] - cv::Point2d(20, 10)), 0, 1e-9);
  EXPECT_NEAR(cv::norm(triangle[2] - cv::Point2d(0, 0)), 0, 1e-9);
  const auto square = frame_of({{10, 0}, {10, 10}, {0, 10}, {0, 0}});
  EXPECT_NEAR(cv::norm(square[0] - cv::Point2d(0, 0)), 0, 1e-9);
}

}  // namespace
}  // namespace papillote::segmentation
