#include "stages/interpretation/interpretation.h"

#include <gtest/gtest.h>

namespace papillote::interpretation {
namespace {

Reading line(std::string text, LineKind kind = LineKind::handwritten) {
  Reading reading;
  reading.line.kind = kind;
  reading.text = std::move(text);
  reading.confidence = 1;
  return reading;
}

Annotation annotation(std::vector<Reading> lines) {
  Annotation all;
  all.lines = std::move(lines);
  return all;
}

Interpretation interpreted(const Annotation& read, const Options& options = {}, const TinContext& tin = {}) {
  const auto facts = interpret(read, tin, nullptr, options);
  EXPECT_TRUE(facts.ok());
  return facts.ok() ? *facts : Interpretation{};
}

TEST(Interpretation, TellsWhichCharactersEachClaimRestsOn) {
  const auto read =
      annotation({line("Papilio machaon L. ♂"), line("Mt. Kina Balu 4000 ft."), line("12.vii.1909 leg. H. Meyerling")});
  const auto facts = interpreted(read);
  ASSERT_TRUE(facts.date && facts.elevation && facts.collector && facts.taxon && facts.sex);
  EXPECT_EQ(facts.date->value, "1909-07-12");
  EXPECT_EQ(facts.date->evidence, (std::vector<Evidence>{{2, 0, 11}}));
  EXPECT_EQ(facts.elevation->value, (ElevationRange{1219.2, 1219.2}));
  EXPECT_EQ(facts.elevation->evidence.at(0).line, 1);
  EXPECT_EQ(facts.collector->value, "H. Meyerling");
  EXPECT_EQ(facts.taxon->value, "Papilio machaon");
  EXPECT_EQ(facts.sex->value, "male");
  for (const auto* claim : {&facts.date, &facts.collector, &facts.taxon, &facts.sex}) {
    const auto& evidence = (*claim)->evidence.at(0);
    const auto& text = read.lines[static_cast<std::size_t>(evidence.line)].text;
    EXPECT_EQ((*claim)->verbatim,
              text.substr(static_cast<std::size_t>(evidence.begin), static_cast<std::size_t>(evidence.end - evidence.begin)));
  }
  // What no other parser claims is the place, left open without a gazetteer.
  ASSERT_TRUE(facts.place);
  EXPECT_FALSE(facts.place->value);
  EXPECT_EQ(facts.place->verbatim, "Mt. Kina Balu");
  EXPECT_EQ(facts.place->evidence, (std::vector<Evidence>{{1, 0, 13}}));
}

TEST(Interpretation, ReadsADateOverTheEndOfALine) {
  const auto facts = interpreted(annotation({line("Labuan 12.vii."), line("1909")}));
  ASSERT_TRUE(facts.date);
  EXPECT_EQ(facts.date->value, "1909-07-12");
  EXPECT_EQ(facts.date->evidence, (std::vector<Evidence>{{0, 7, 14}, {1, 0, 4}}));
}

TEST(Interpretation, TellsPersonsApartByTheirParts) {
  const auto facts = interpreted(
      annotation({line("leg. H. Meyerling"), line("det. K. Andorff 1912"), line("ex coll. Vantreve"), line("ded. P. Olmsen")}));
  ASSERT_TRUE(facts.collector && facts.determiner && facts.donor && facts.previous_collection);
  EXPECT_EQ(facts.collector->value, "H. Meyerling");
  EXPECT_EQ(facts.determiner->value, "K. Andorff");
  EXPECT_EQ(facts.previous_collection->value, "Vantreve");
  EXPECT_EQ(facts.donor->value, "P. Olmsen");
  EXPECT_EQ(facts.donor->evidence.at(0).line, 3);
  EXPECT_FALSE(interpreted(annotation({line("leg. H. Meyerling")})).determiner);
}

TEST(Interpretation, KeepsTheDateOfTheNewspaperApart) {
  const auto facts = interpreted(annotation({line("Labuan"), line("TUESDAY, JULY 13, 1909", LineKind::newsprint)}));
  EXPECT_FALSE(facts.date);
  ASSERT_TRUE(facts.newspaper_date);
  EXPECT_EQ(facts.newspaper_date->value, "1909-07-13");
  EXPECT_EQ(facts.newspaper_date->evidence.at(0).line, 1);
}

TEST(Interpretation, TriesOtherReadingsWhereTheBestGivesNoDate) {
  auto doubtful = line("Labuan 31.ix.1909");
  doubtful.confidence = 0.4;
  doubtful.alternatives = {{"Labuan 21.ix.1909", 0.56}, {"Labuan 31.xi.1909", 0.03}};
  const auto facts = interpreted(annotation({doubtful}));
  ASSERT_TRUE(facts.date);
  EXPECT_EQ(facts.date->value, "1909-09-21");
  EXPECT_EQ(facts.date->verbatim, "31.ix.1909") << "the best text stays";
  EXPECT_LT(facts.date->confidence, 0.98);
  EXPECT_GE(facts.date->reasons.size(), 2U);
}

TEST(Interpretation, IsNoSurerOfADateThanTheReader) {
  const auto read = line("12.vii.1909");
  const auto at = [&](double confidence) {
    auto doubtful = read;
    doubtful.confidence = confidence;
    return *interpreted(annotation({doubtful})).date;
  };
  EXPECT_LT(at(0.8).confidence, at(1).confidence);
  EXPECT_TRUE(at(0.8).value);
  const auto open = at(0.05);  // left open, and said what it may be
  EXPECT_FALSE(open.value);
  ASSERT_FALSE(open.alternatives.empty());
  EXPECT_EQ(open.alternatives[0].first, "1909-07-12");
  // Where the reader's other guesses are other dates, the date is doubtful too.
  auto disputed = read;
  disputed.confidence = 0.8;
  const double alone = interpreted(annotation({disputed})).date->confidence;
  disputed.alternatives = {{"17.vii.1909", 0.15}};
  EXPECT_LT(interpreted(annotation({disputed})).date->confidence, alone);
}

TEST(Interpretation, LeavesAYearOpenThatStandsBesideWordsItCannotRead) {
  const auto facts = interpreted(annotation({line("21 mais 1934")}));
  ASSERT_TRUE(facts.date);
  EXPECT_FALSE(facts.date->value);
  ASSERT_FALSE(facts.date->alternatives.empty());
  EXPECT_EQ(facts.date->alternatives[0].first, "1934");
}

TEST(Interpretation, TakesThePeriodOfTheTinBeforeThatOfTheOptions) {
  Options options;
  options.period = "1825/1840";
  const auto read = annotation({line("12.vii.34")});
  EXPECT_EQ(interpreted(read, options).date->value, "1834?-07-12");
  EXPECT_EQ(interpreted(read, options, {.period = std::pair(1920, 1940)}).date->value, "1934?-07-12");
  options.period = "the twenties";
  const auto refused = interpret(read, {}, nullptr, options);
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.failure().kind, "bad_option");
}

TEST(Interpretation, OfNothingIsNothing) {
  EXPECT_EQ(interpreted(annotation({})), Interpretation{});
  EXPECT_EQ(interpreted(annotation({line(""), line("  ")})), Interpretation{});
}

}  // namespace
}  // namespace papillote::interpretation
