// Braces that join lines, as they stand on envelopes and in registers: cases written for this test.
#include "stages/interpretation/braces.h"

#include <gtest/gtest.h>

#include <random>

#include "stages/interpretation/interpretation.h"

namespace papillote::interpretation {
namespace {

// A line at a place of the envelope, in mm and upright.
Reading line(std::string text, double x = 0, double y = 0, double width = 0, double height = 0) {
  Reading reading;
  reading.text = std::move(text);
  reading.confidence = 0.98;
  reading.line.quad_px = {{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}};
  return reading;
}

Annotation annotation(std::vector<Reading> lines) {
  Annotation all;
  all.lines = std::move(lines);
  for (const Reading& reading : all.lines) all.text += (all.text.empty() ? "" : "\n") + reading.text;
  return all;
}

TEST(Braces, JoinTheLinesThatEndInThem) {
  const auto read = annotation({line("3.vii. }"), line("12.vii. } 1909"), line("30.vii. }")});
  const auto braces = braces_in(read);
  ASSERT_EQ(braces.size(), 1U);
  EXPECT_EQ(braces[0].joined, (std::vector<LinePart>{{0, 0, 6}, {1, 0, 7}, {2, 0, 7}}));
  EXPECT_EQ(braces[0].shared, (std::vector<LinePart>{{1, 10, 14}}));
}

TEST(Braces, ShareAYearAmongDays) {
  const auto facts = *interpret(annotation({line("3.vii. }"), line("12.vii. } 1909"), line("30.vii. }")}), {}, nullptr, {});
  ASSERT_TRUE(facts.date);
  EXPECT_EQ(facts.date->value, "{1909-07-03,1909-07-12,1909-07-30}");
  EXPECT_EQ(facts.date->evidence.size(), 4U);
  EXPECT_EQ(facts.date->reasons, (std::vector<std::string>{"A brace joins 3 lines to \"1909\"."}));
}

TEST(Braces, ShareACollectorAmongPlaces) {
  const auto facts =
      *interpret(annotation({line("Labuan }"), line("Kuching } coll. H. Meyerling"), line("12.vii.1909 }")}), {}, nullptr, {});
  ASSERT_TRUE(facts.collector && facts.date);
  EXPECT_EQ(facts.collector->value, "H. Meyerling");
  EXPECT_EQ(facts.date->value, "1909-07-12");
}

TEST(Braces, StandTallBesideTheirLines) {
  // One sign of 22 mm beside three lines; the reader, whose characters lack braces, takes it for a bracket.
  const auto read = annotation({line("3.vii.", 0, 0, 20, 5), line(")", 22, 0, 3, 22), line("1909", 28, 8, 15, 5),
                                line("12.vii.", 0, 8, 20, 5), line("30.vii.", 0, 16, 20, 5)});
  const auto braces = braces_in(read);
  ASSERT_EQ(braces.size(), 1U);
  EXPECT_EQ(braces[0].joined.size(), 3U);
  EXPECT_EQ(braces[0].shared, (std::vector<LinePart>{{2, 0, 4}}));
  EXPECT_EQ(interpret(read, {}, nullptr, {})->date->value, "{1909-07-03,1909-07-12,1909-07-30}");
}

TEST(Braces, OpenToTheRightToo) {
  const auto read = annotation({line("1909 { 3.vii."), line("{ 12.vii.")});
  const auto braces = braces_in(read);
  ASSERT_EQ(braces.size(), 1U);
  EXPECT_EQ(braces[0].shared, (std::vector<LinePart>{{0, 0, 4}}));
  EXPECT_EQ(braces[0].joined.size(), 2U);
}

TEST(Braces, AreNoPairOfBracketsAndNoLoneOne) {
  EXPECT_TRUE(braces_in(annotation({line("Aeshna grandis (L.)"), line("Cortina (Tirol)")})).empty());
  EXPECT_TRUE(braces_in(annotation({line("Hautes-Alpes)"), line("12.vii.1909")})).empty());
  EXPECT_TRUE(braces_in(annotation({line("}"), line("")})).empty());
  Reading paper = line("a }");
  paper.line.kind = LineKind::newsprint;
  EXPECT_TRUE(braces_in(annotation({paper, paper})).empty());
}

TEST(Braces, LieWithinTheirLinesWhateverStandsThere) {
  std::mt19937 random(19'090'712);
  constexpr std::string_view kSigns = "{})(][ a1.\xE2\x8E\xAB\n";
  for (int round = 0; round < 3000; ++round) {
    std::vector<Reading> lines;
    for (std::size_t n = random() % 6; n > 0; --n) {
      std::string text;
      for (std::size_t k = random() % 9; k > 0; --k) text += kSigns[random() % kSigns.size()];
      const auto mm = [&] { return static_cast<double>(random() % 30); };
      lines.push_back(line(text, mm(), mm(), mm(), mm()));
    }
    const auto read = annotation(lines);
    for (const Brace& brace : braces_in(read)) {
      EXPECT_GE(brace.joined.size(), 2U);
      EXPECT_FALSE(brace.shared.empty());
      for (const auto* parts : {&brace.joined, &brace.shared, &brace.signs})
        for (const LinePart& part : *parts) {
          EXPECT_LT(part.begin, part.end);
          EXPECT_LE(part.end, read.lines[static_cast<std::size_t>(part.line)].text.size());
        }
    }
    EXPECT_TRUE(interpret(read, {}, nullptr, {}).ok());
  }
}

}  // namespace
}  // namespace papillote::interpretation
