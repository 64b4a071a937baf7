#include "stages/interpretation/edtf.h"

#include <gtest/gtest.h>

#include "tests/stages/interpretation/noise.h"
#include "tests/stages/interpretation/tables.h"

namespace papillote::interpretation {
namespace {

std::string first_day(std::string_view text) {
  const auto bounds = day_bounds(*parse_edtf(text));
  return bounds.first ? iso_day(*bounds.first) : "";
}
std::string last_day(std::string_view text) {
  const auto bounds = day_bounds(*parse_edtf(text));
  return bounds.last ? iso_day(*bounds.last) : "";
}

struct Example {
  std::string_view text;
  int level;
};

// Source: Extended Date/Time Format specification, Library of Congress, 2019-02-04.
constexpr Example kOfTheSpecification[] = {{"1985-04-12", 0},
                                           {"1985-04", 0},
                                           {"1985", 0},
                                           {"1985-04-12T23:20:30", 0},
                                           {"1985-04-12T23:20:30Z", 0},
                                           {"1985-04-12T23:20:30-04", 0},
                                           {"1985-04-12T23:20:30+04:30", 0},
                                           {"1964/2008", 0},
                                           {"2004-06/2006-08", 0},
                                           {"2004-02-01/2005-02-08", 0},
                                           {"2004-02-01/2005-02", 0},
                                           {"2005/2006-02", 0},
                                           {"Y170000002", 1},
                                           {"Y-170000002", 1},
                                           {"2001-21", 1},
                                           {"1984?", 1},
                                           {"2004-06~", 1},
                                           {"2004-06-11%", 1},
                                           {"201X", 1},
                                           {"20XX", 1},
                                           {"2004-XX", 1},
                                           {"1985-04-XX", 1},
                                           {"1985-XX-XX", 1},
                                           {"1985-04-12/..", 1},
                                           {"../1985", 1},
                                           {"1985/", 1},
                                           {"/1985-04", 1},
                                           {"-1985", 1},
                                           {"Y-17E7", 2},
                                           {"1950S2", 2},
                                           {"Y171010000S3", 2},
                                           {"Y3388E2S3", 2},
                                           {"2001-34", 2},
                                           {"[1667,1668,1670..1672]", 2},
                                           {"[..1760-12-03]", 2},
                                           {"[1760-12..]", 2},
                                           {"[1760-01,1760-02,1760-12..]", 2},
                                           {"[1667,1760-12]", 2},
                                           {"{1667,1668,1670..1672}", 2},
                                           {"{1960,1961-12}", 2},
                                           {"{..1984}", 2},
                                           {"2004-06~-11", 2},
                                           {"2004?-06-11", 2},
                                           {"?2004-06-~11", 2},
                                           {"2004-%06-11", 2},
                                           {"156X-12-25", 2},
                                           {"15XX-12-25", 2},
                                           {"XXXX-12-XX", 2},
                                           {"1XXX-XX", 2},
                                           {"1XXX-12", 2},
                                           {"1984-1X", 2},
                                           {"2004-06-~01/2004-06-~20", 2},
                                           {"2004-06-XX/2004-07-03", 2}};

TEST(Edtf, TakesEveryExampleOfTheSpecification) {
  for (const auto& [text, level] : kOfTheSpecification) {
    const auto value = parse_edtf(text);
    ASSERT_TRUE(value) << text;
    EXPECT_EQ(print_edtf(*value), text);
    EXPECT_EQ(level_of(*value), level) << text;
  }
}

TEST(Edtf, RefusesWhatTheGrammarRefuses) {
  // Follows from the grammar of the specification; most are in the tests of a public validator (University of North Texas).
  for (const std::string_view text : {"",
                                      " 1863-03-29",
                                      "1863-03-29 ",
                                      "1863- 03-29",
                                      "1960-06-31",
                                      "20067890%",
                                      "Y2006",
                                      "-0000",
                                      "+2006%",
                                      "2000/12-12",
                                      "2012-10-10T1:10:10",
                                      "2005-07-25T10:10:10Z/2006-01-01T10:10:10Z",
                                      "[1667,1668, 1670..1672]",
                                      "0800/-0999",
                                      "0001/0000",
                                      "1985-04-12T23:20:30z",
                                      "2012-10-10T10:50:10Z15",
                                      "2004-01-01T10:10:10-05:60",
                                      "2004-06-11?~",
                                      "1985-4-12",
                                      "19850412",
                                      "1985-13",
                                      "1985-02-30",
                                      "1900-02-29",
                                      "198u",
                                      "unknown",
                                      "2004-01-01/open",
                                      "2007-11-13/15",
                                      "[]",
                                      "[1984",
                                      "{,}",
                                      "1984-21-05",
                                      "/",
                                      "/..",
                                      "../",
                                      "../.."}) {
    EXPECT_FALSE(parse_edtf(text)) << text;
  }
}

TEST(Edtf, AgreesWithTheSharedTable) {
  for (auto& row : tables::read("reference/edtf_examples.csv")) {
    const std::string& text = row["edtf"];
    const auto value = parse_edtf(text);
    if (row["valid"] == "contested") {
      // Decided in edtf.h: no interval without any end; a winter may open its year.
      EXPECT_EQ(value.has_value(), text == "2012-24/2012-21") << text;
      continue;
    }
    EXPECT_EQ(value.has_value(), row["valid"] == "yes") << text;
    if (!value) continue;
    EXPECT_EQ(print_edtf(*value), text);
    EXPECT_EQ(std::to_string(level_of(*value)), row["level"]) << text;
    if (!row["earliest"].empty()) {
      EXPECT_EQ(first_day(text), row["earliest"]) << text;
    }
    if (!row["latest"].empty()) {
      EXPECT_EQ(last_day(text), row["latest"]) << text;
    }
  }
}

TEST(Edtf, BoundsOpenEndsAndSeasons) {
  EXPECT_EQ(first_day("[..1913]"), "");
  EXPECT_EQ(last_day("[..1913]"), "1913-12-31");
  EXPECT_EQ(first_day("1985/.."), "1985-01-01");
  EXPECT_EQ(last_day("1985/.."), "");
  EXPECT_EQ(first_day("1904-02"), "1904-02-01");
  EXPECT_EQ(last_day("1904-02"), "1904-02-29");
  // The rule of edtf.h: a winter or an unsettled summer reaches over both ends of its year.
  EXPECT_EQ(first_day("1910-24"), "1909-12-01");
  EXPECT_EQ(last_day("1910-24"), "1911-02-28");
  EXPECT_EQ(first_day("1910-25"), "1910-03-01");
  EXPECT_EQ(last_day("1910-25"), "1910-05-31");
  EXPECT_EQ(last_day("156X-02-29"), "1568-02-29");
  EXPECT_EQ(first_day("Y170000002"), "");
}

TEST(Edtf, WhatItTakesFromNoiseItPrintsAgain) {
  std::mt19937 random(20190204);
  static constexpr std::string_view kPieces[] = {"1985", "XXXX", "19XX", "-", "04", "XX",        "31", "/",
                                                 "..",   "[",    "]",    "{", "}",  ",",         "?",  "~",
                                                 "%",    "Y",    "E",    "S", "21", "T23:20:30", "Z",  "-04"};
  int valid = 0;
  for (int i = 0; i < 200000; ++i) {
    std::string text;
    for (std::size_t n = random() % 7; n > 0; --n) text += kPieces[random() % std::size(kPieces)];
    const auto value = parse_edtf(text);
    if (!value) continue;
    ++valid;
    EXPECT_EQ(print_edtf(*value), text);
    EXPECT_EQ(parse_edtf(print_edtf(*value)), value);
    const auto bounds = day_bounds(*value);
    if (bounds.first && bounds.last) {
      EXPECT_LE(*bounds.first, *bounds.last) << text;
    }
    EXPECT_LE(level_of(*value), 2);
  }
  EXPECT_GT(valid, 1000);
  for (int i = 0; i < 20000; ++i) (void)parse_edtf(random_bytes(random, 40));
}

}  // namespace
}  // namespace papillote::interpretation
