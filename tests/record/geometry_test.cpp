#include "pipeline/record/geometry.h"

#include <gtest/gtest.h>

namespace papillote {
namespace {

// Euclid: the centroid of a triangle is the mean of its corners, that of a square its middle, whichever way round they run.
TEST(Centroid, IsTheMiddleOfTheArea) {
  EXPECT_NEAR(centroid_of({{0, 0}, {9, 0}, {0, 6}}).x, 3, 1e-9);
  EXPECT_NEAR(centroid_of({{0, 0}, {0, 6}, {9, 0}}).y, 2, 1e-9);
  // A corner more on one side moves the mean of the corners, not the middle of the area.
  EXPECT_NEAR(centroid_of({{0, 0}, {1, 0}, {2, 0}, {4, 0}, {4, 4}, {0, 4}}).x, 2, 1e-9);
}

TEST(Centroid, OfWhatHasNoAreaIsTheMiddleOfItsBox) {
  EXPECT_EQ(centroid_of({{0, 0}, {2, 2}, {4, 4}}), (Point{2, 2}));
  EXPECT_EQ(centroid_of({{3, 5}}), (Point{3, 5}));
  EXPECT_EQ(centroid_of({}), (Point{0, 0}));
}

// Half of base by height, whichever way round it runs.
TEST(Area, IsThatOfTheFigure) {
  EXPECT_NEAR(area_of({{0, 0}, {9, 0}, {0, 6}}), 27, 1e-9);
  EXPECT_NEAR(area_of({{0, 0}, {0, 6}, {9, 0}}), 27, 1e-9);
  EXPECT_EQ(area_of({{3, 5}, {4, 7}}), 0);
}

}  // namespace
}  // namespace papillote
