#include "pipeline/record/rank.h"

#include <gtest/gtest.h>

#include <vector>

namespace papillote {
namespace {

TEST(Rank, MedianIsTheMiddleOneAndOfAnEvenNumberTheUpper) {
  EXPECT_EQ(median(std::vector<int>{9, 1, 4}), 4);
  EXPECT_EQ(median(std::vector<int>{9, 1, 4, 6}), 6);
  EXPECT_EQ(median(std::vector<double>{2.5}), 2.5);
}

TEST(Rank, AQuantileHasItsShareOfTheOthersBelowIt) {
  std::vector<int> values;
  for (int i = 0; i < 100; ++i) values.push_back((i * 37) % 100);  // 0 to 99 in disorder
  EXPECT_EQ(quantile(values, 0.2), 20);
  EXPECT_EQ(quantile(values, 0.98), 98);
  EXPECT_EQ(quantile(values, 0), 0);
  EXPECT_EQ(quantile(values, 1), 99);
}

}  // namespace
}  // namespace papillote
