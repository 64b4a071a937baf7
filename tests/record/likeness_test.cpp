#include "pipeline/record/likeness.h"

#include <gtest/gtest.h>

namespace papillote {
namespace {

TEST(Likeness, IsTheEditDistanceAgainstTheLongerText) {
  // "kitten" and "sitting" lie three edits apart: the usual worked example of Levenshtein's distance (from memory).
  EXPECT_DOUBLE_EQ(likeness("kitten", "sitting"), 1 - 3.0 / 7);
  EXPECT_DOUBLE_EQ(likeness("sitting", "kitten"), 1 - 3.0 / 7);
  EXPECT_DOUBLE_EQ(likeness("Kuching", "Kuching"), 1);
  EXPECT_DOUBLE_EQ(likeness("abc", ""), 0);
  EXPECT_DOUBLE_EQ(likeness("", ""), 1);
}

TEST(Likeness, LeavesBlanksAndCaseOut) { EXPECT_EQ(without_blanks(" Mt. Kina\tBalu\n4000 Ft "), "mt.kinabalu4000ft"); }

}  // namespace
}  // namespace papillote
