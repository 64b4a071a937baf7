#include "pipeline/record/csv.h"

#include <gtest/gtest.h>

namespace papillote {
namespace {

// RFC 4180, section 2, rules 5 to 7.
TEST(Csv, QuotesAfterTheRfc) {
  EXPECT_EQ(csv_row({"a", "b,c", "say \"x\"", "two\nlines"}), "a,\"b,c\",\"say \"\"x\"\"\",\"two\nlines\"\r\n");
}

TEST(Csv, DisarmsFormulasButLeavesNumbers) {
  for (const char* text : {"=1+1", "+cmd", "-2+3", "@sum", "\tx", "-", "+"}) EXPECT_EQ(no_formula(text), std::string("'") + text);
  for (const char* text : {"-7.75", "12", "0.5", "-0", "", "Zermatt", "1-2"}) EXPECT_EQ(no_formula(text), text);
}

TEST(Csv, ReadsBackWhatItWrites) {
  const std::vector<std::string> cells{"a", "b,c", "say \"x\"", "two\nlines", "=1+1", "", "-7.75"};
  const auto rows = csv_rows(csv_row({"one"}) + "\r\n" + csv_row(cells) + csv_row({"last"}), ',');
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[1].cells, cells);
  EXPECT_EQ(rows[1].line, 3);
  EXPECT_EQ(rows[2].line, 5);
}

TEST(Csv, FindsTheSeparatorAndLeavesRemarksOut) {
  const auto rows = kept_rows("\xEF\xBB\xBF# prose, with commas, and a \" quote\na;b;c\n1,5;\"x;y\";z\n");
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[1].cells, (std::vector<std::string>{"1,5", "x;y", "z"}));
  EXPECT_EQ(rows[1].line, 3);
}

TEST(Csv, TakesDecimalPointsAndCommas) {
  EXPECT_EQ(number_in("-1.5"), -1.5);
  EXPECT_EQ(number_in("-1,5"), -1.5);
  for (const char* none : {"", "1,000.5", "1,2,3", "five", "5 mm", "nan", "inf"}) EXPECT_EQ(number_in(none), std::nullopt) << none;
}

}  // namespace
}  // namespace papillote
