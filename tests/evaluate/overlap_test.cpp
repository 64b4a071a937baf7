#include "tests/evaluate/overlap.h"

#include <gtest/gtest.h>

namespace papillote::evaluation {
namespace {

Polygon square(double left, double top, double side) { return {{left, top}, {left + side, top}, {left + side, top + side}, {left, top + side}}; }

TEST(Overlap, SquaresShiftedByHalfShareAThird) {
  const Overlap o = overlap(square(0, 0, 100), square(50, 0, 100));
  EXPECT_NEAR(o.common, 5000, 25);
  EXPECT_NEAR(o.iou(), 1.0 / 3, 0.003);
}

TEST(Overlap, TheSameOutlineAgreesWhollyWhateverItsShape) {
  const Polygon arrow{{0, 0}, {90, 40}, {0, 80}, {30, 40}};
  EXPECT_GT(overlap(arrow, arrow).iou(), 0.99);
}

TEST(Overlap, ApartOrDegenerateIsNothing) {
  EXPECT_EQ(overlap(square(0, 0, 10), square(20, 0, 10)).common, 0);
  EXPECT_EQ(overlap({{0, 0}, {1, 1}}, square(0, 0, 10)).iou(), 0);
}

TEST(PairUp, TheBetterPairWinsAndEachIsUsedOnce) {
  const auto pairs = pair_up({square(0, 0, 100), square(30, 0, 100)}, {square(28, 0, 100)}, 0.3);
  ASSERT_EQ(pairs.size(), 1U);
  EXPECT_EQ(pairs[0].truth, 1U);
}

}  // namespace
}  // namespace papillote::evaluation
