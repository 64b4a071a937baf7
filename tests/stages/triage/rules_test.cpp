#include "stages/triage/rules.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace papillote::triage {
namespace {

using testing::HasSubstr;

TEST(Rules, SurviveTheirOwnTable) {
  const auto read = rules_from_csv(rules_csv(printed_rules()), "triage.csv");
  ASSERT_TRUE(read.ok()) << read.failure().reason;
  EXPECT_EQ(read->rows, printed_rules().rows);
}

TEST(Rules, ExplainEveryWeight) {
  for (const Rule& rule : printed_rules().rows) {
    EXPECT_FALSE(rule.why.empty()) << rule.about << " " << rule.sign;
    EXPECT_GE(rule.weight, 0);
    EXPECT_LE(rule.weight, 1);
    if (rule.about != "limit") {
      EXPECT_FALSE(rule.words.empty()) << rule.sign;
      EXPECT_THAT(rule.level, testing::AnyOf("isolate", "stabilise", "valuable", "routine"));
    }
  }
}

TEST(Rules, KeepWhatATableLeavesOut) {
  const auto read =
      rules_from_csv("about;sign;weight\r\nfinding;tear;0,25\r\n", "triage.csv");  // as a spreadsheet of Vienna writes it
  ASSERT_TRUE(read.ok()) << read.failure().reason;
  Rules expected = printed_rules();
  for (Rule& rule : expected.rows)
    if (rule.sign == "tear") rule.weight = 0.25;
  EXPECT_EQ(read->rows, expected.rows);
  EXPECT_EQ(rules_from_csv("", "triage.csv")->rows, printed_rules().rows);
}

TEST(Rules, TakeWantedTaxaAndPlaces) {
  const auto read = rules_from_csv(
      "# what we look for, and \"why\nabout,sign,words\nwanted_taxon,Ornithoptera,for the revision\nwanted_place,Labuan,\n",
      "triage.csv");
  ASSERT_TRUE(read.ok()) << read.failure().reason;
  ASSERT_NE(read->find("wanted_taxon", "Ornithoptera"), nullptr);
  EXPECT_EQ(read->find("wanted_taxon", "Ornithoptera")->words, "for the revision");
  ASSERT_NE(read->find("wanted_place", "Labuan"), nullptr);
  EXPECT_EQ(read->find("wanted_place", "Labuan")->level, "valuable");
}

TEST(Rules, NameTheLineThatIsWrong) {
  const std::string head = "# remark\nabout,sign,from,level,weight,words,why\n";
  const auto reason = [&](const std::string& rows) {
    const auto read = rules_from_csv(head + rows, "my/triage.csv");
    return read.ok() ? std::string() : read.failure().reason;
  };
  EXPECT_THAT(reason("finding,tear,,,,,\nfinding,teer,,,,,\n"),
              testing::AllOf(HasSubstr("my/triage.csv, line 4"), HasSubstr("teer")));
  EXPECT_THAT(reason("finding,tear,,urgent,,,\n"), testing::AllOf(HasSubstr("line 3"), HasSubstr("urgent")));
  EXPECT_THAT(reason("finding,tear,,,1.5,,\n"), testing::AllOf(HasSubstr("line 3"), HasSubstr("1.5")));
  EXPECT_THAT(reason("finding,tear,much,,,,\n"), HasSubstr("much"));
  EXPECT_THAT(reason("wanted_taxon,,,,,,\n"), HasSubstr("line 3"));
  EXPECT_THAT(reason("finding,tear,2,isolate,0.5,torn, very,because\n"), HasSubstr("more cells"));
  EXPECT_THAT(rules_from_csv("about,sign,wieght\n", "t.csv").failure().reason, HasSubstr("wieght"));
}

}  // namespace
}  // namespace papillote::triage
