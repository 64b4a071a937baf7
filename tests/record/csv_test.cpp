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

}  // namespace
}  // namespace papillote
