#include "tests/evaluate/scores.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace papillote::evaluation {
namespace {

using nlohmann::json;

// EDTF forms as in the table of label dates (two digits of the year leave the century open; d/m/y may be m/d/y).
TEST(JudgeDate, TellsRightFromOpenFromWrong) {
  const json settled{{"edtf", "1909-07-12"}, {"open_edtf", "1909-07-12"}, {"true_edtf", "1909-07-12"}};
  EXPECT_EQ(judge_date(settled, "1909-07-12"), Verdict::right);
  EXPECT_EQ(judge_date(settled, "1909-07-12?"), Verdict::open);
  EXPECT_EQ(judge_date(settled, "1909-07"), Verdict::open);
  EXPECT_EQ(judge_date(settled, ""), Verdict::open);
  EXPECT_EQ(judge_date(settled, "1909-12-07"), Verdict::wrong);
  const json century{{"edtf", nullptr}, {"open_edtf", "XX09-07-12"}, {"true_edtf", "1909-07-12"}};
  EXPECT_EQ(judge_date(century, "XX09-07-12"), Verdict::open);
  EXPECT_EQ(judge_date(century, "1909?-07-12"), Verdict::right);  // settled by the tin, and said so
  EXPECT_EQ(judge_date(century, "1809?-07-12"), Verdict::wrong);
  EXPECT_EQ(judge_date(century, "1909-07-12"), Verdict::right);
  EXPECT_EQ(judge_date(century, "1809-07-12"), Verdict::wrong);
  const json order{{"edtf", nullptr}, {"open_edtf", "[1920-03-04,1920-04-03]"}, {"true_edtf", "1920-04-03"}};
  EXPECT_EQ(judge_date(order, "[1920-03-04,1920-04-03]"), Verdict::open);
  EXPECT_EQ(judge_date(order, "1920-03-04"), Verdict::wrong);
  EXPECT_EQ(judge_date(nullptr, "1920"), Verdict::wrong);
  EXPECT_EQ(judge_date(nullptr, ""), Verdict::right);
}

TEST(Scores, CountsFoundMissedAndInvented) {
  const json outline = json::array({{0, 0}, {100, 0}, {100, 60}, {0, 60}});
  const json away = json::array({{500, 0}, {600, 0}, {600, 60}, {500, 60}});
  const json line_px = json::array({{10, 10}, {60, 10}, {60, 20}, {10, 20}});
  const json envelope{{"polygon_px", outline},
                      {"lines", json::array({{{"polygon_px", line_px}, {"kind", "printed"}, {"text", "Brig 1909"}}})},
                      {"date", {{"verbatim", "1909"}, {"edtf", "1909"}, {"open_edtf", "1909"}, {"true_edtf", "1909"}}},
                      {"place", {{"lat", 46.32}, {"lon", 7.99}}},
                      {"findings", json::array({{{"kind", "hole"}, {"severity", 2}, {"polygon_px", line_px}}})}};
  const json truth{{"envelopes", json::array({envelope})}};
  json answer = truth;
  answer["envelopes"][0]["lines"][0]["text"] = "Brig 1908";
  answer["envelopes"][0]["findings"][0]["severity"] = 4;
  answer["envelopes"][0]["findings"].push_back({{"kind", "mould"}, {"severity", 2}, {"confidence", 0.3}, {"polygon_px", line_px}});
  json invented = envelope;
  invented["polygon_px"] = away;
  invented["lines"] = invented["findings"] = json::array();
  answer["envelopes"].push_back(invented);

  Scores scores;
  scores.add(truth, answer);
  EXPECT_EQ(scores.envelopes90.found, 1U);
  EXPECT_EQ(scores.envelopes90.false_alarms, 1U);
  EXPECT_EQ(scores.lines.found, 1U);
  EXPECT_EQ(scores.read_found["printed"].edits, 1U);
  EXPECT_EQ(scores.read_found["printed"].length, 9U);
  EXPECT_EQ(scores.dates["printed"].right, 1U);
  EXPECT_EQ(scores.places.right, 1U);
  EXPECT_EQ(scores.findings["hole"].found.found, 1U);
  EXPECT_EQ(scores.findings["hole"].severity_near, 0U);
  EXPECT_EQ(scores.findings.count("mould"), 0U) << "too doubtful to count";

  scores.add(truth, nullptr);
  EXPECT_EQ(scores.missing, 1U);
  EXPECT_EQ(scores.envelopes75.truth, 2U);
  EXPECT_EQ(scores.envelopes75.found, 1U);
  EXPECT_EQ(scores.read_all["printed"].edits, 10U);  // one wrong letter, nine not read
}

}  // namespace
}  // namespace papillote::evaluation
