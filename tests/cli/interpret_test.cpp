// `papillote interpret`: one JSON object a line, in order, whatever stands on the line.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

std::vector<nlohmann::json> answers(const std::vector<std::string>& arguments, const std::string& lines) {
  const Ended ended = run(arguments, lines);
  EXPECT_EQ(ended.code, 0) << ended.err;
  std::vector<nlohmann::json> all;
  std::istringstream out(ended.out);
  for (std::string line; std::getline(out, line);) all.push_back(nlohmann::json::parse(line));
  return all;
}

// The examples of the EDTF specification's rules for labels stand in tests/stages/interpretation; here it is the form that
// counts.
TEST(Interpret, AnswersEachLineInOrder) {
  const auto dates =
      answers({"interpret", "dates", "--period", "1890/1915"}, "Labuan 12.vii.09\n\n31.ii.1909\n=1+1\n\xff\xfe\nJuin 98");
  ASSERT_EQ(dates.size(), 6U);
  EXPECT_EQ(dates[0]["verbatim"], "Labuan 12.vii.09");
  EXPECT_EQ(dates[0]["value"], "1909?-07-12");
  EXPECT_TRUE(dates[1]["value"].is_null());
  EXPECT_TRUE(dates[2]["value"].is_null()) << "no calendar has the day";
  EXPECT_FALSE(dates[2]["reasons"].empty());
  EXPECT_EQ(dates[3]["verbatim"], "=1+1") << "kept exactly; only tables for spreadsheets are neutralised";
  EXPECT_EQ(dates[5]["value"], "1898?-06");
  for (const auto& date : dates)
    for (const char* key : {"verbatim", "value", "confidence", "alternatives", "reasons"})
      EXPECT_TRUE(date.contains(key)) << key;
}

TEST(Interpret, GivesMetresAndDegrees) {
  const auto heights = answers({"interpret", "elevations"}, "4000 ft.\n3-400 m\n");
  ASSERT_EQ(heights.size(), 2U);
  EXPECT_EQ(heights[0]["value"], nlohmann::json::array({1219.2, 1219.2}));  // 1 ft = 0.3048 m by definition
  const auto points = answers({"interpret", "coordinates"}, "17° 20' S 145° 35' E\n");
  ASSERT_EQ(points.size(), 1U);
  EXPECT_NEAR(points[0]["value"]["lat"].get<double>(), -(17 + 20 / 60.0), 1e-7);
  EXPECT_NEAR(points[0]["value"]["lon"].get<double>(), 145 + 35 / 60.0, 1e-7);
}

TEST(Interpret, RefusesWhatItCannotDo) {
  const Ended period = run({"interpret", "dates", "--period", "the twenties"}, "");
  EXPECT_EQ(period.code, 2);
  EXPECT_NE(period.err.find("the twenties"), std::string::npos);
  const Ended kind = run({"interpret", "beetles"}, "");
  EXPECT_EQ(kind.code, 2);
  const Ended gazetteer = run({"interpret", "places", "--gazetteer", "/nowhere/places.bin"}, "Kuching\n");
  EXPECT_EQ(gazetteer.code, 1);
  EXPECT_NE(gazetteer.err.find("/nowhere/places.bin"), std::string::npos);
}

}  // namespace
}  // namespace papillote::cli
