#include "tests/evaluate_lines/error_rate.h"

#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace papillote::evaluation {
namespace {

std::vector<std::string> fields_of(const std::string& row) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (const char c : row) {
    if (c == '"')
      quoted = !quoted;
    else if (c == ',' && !quoted)
      fields.emplace_back();
    else if (c != '\r')
      fields.back() += c;
  }
  return fields;
}

// The rates of the shared table cer_wer_cases.csv (columns reference, hypothesis, ..., reference_chars, cer_nfc, words, wer).
TEST(ErrorRate, MatchesTheTableOfCases) {
  const auto path = std::filesystem::path(PAPILLOTE_SOURCE_DIR).parent_path() / "shared/reference/cer_wer_cases.csv";
  std::ifstream file(path);
  if (!file) {
    std::cout << "skipped: the shared reference tables are not beside the repository\n";
    return;
  }
  std::string row;
  std::getline(file, row);
  ASSERT_EQ(row, "reference,hypothesis,reference_chars,char_edits,cer_raw,cer_nfc,reference_words,word_edits,wer,note,source");
  int cases = 0;
  while (std::getline(file, row)) {
    const auto f = fields_of(row);
    ASSERT_EQ(f.size(), 11U) << row;
    EXPECT_NEAR(character_errors(f[0], f[1]).rate(), std::stod(f[5]), 1e-6) << row;
    const Errors words = word_errors(f[0], f[1]);
    EXPECT_EQ(words.length, std::stoul(f[6])) << row;
    // The table counts words before normalising, which matters in one row only.
    EXPECT_EQ(words.edits, f[4] == f[5] ? std::stoul(f[7]) : 0U) << row;
    ++cases;
  }
  EXPECT_GE(cases, 12);
}

// Wagner and Fischer (1974), the usual worked example: three edits from kitten to sitting.
TEST(ErrorRate, CountsEdits) {
  EXPECT_EQ(character_errors("kitten", "sitting").edits, 3U);
  EXPECT_EQ(word_errors("St. Gallen 1200 m", "St Gallen 1200 m").edits, 1U);
  EXPECT_EQ(character_errors("", "").rate(), 0);
}

}  // namespace
}  // namespace papillote::evaluation
