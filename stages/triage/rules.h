// The rules of triage: which sign puts an envelope where, how much it weighs, in which words, and why. A curator may change
// every one of them: the table is written as CSV, edited, and read back.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::triage {

struct Rule {
  std::string about;  // "finding", "grown", "value", "wanted_taxon", "wanted_place", "storage", "fragile", "doubt", "limit"
  std::string sign;   // kind of finding, name of the sign, name of the wanted taxon or place
  double from = 0;    // where it begins to count; what it measures stands in `why`
  std::string level;  // empty for a limit
  double weight = 0;  // 0..1 within the level; 0 = the rule is off
  std::string words;  // for the curator
  std::string why;    // of the level and the weight, with the source

  bool operator==(const Rule&) const = default;
};

struct Rules {
  std::vector<Rule> rows;

  // Nothing where the table has no such row.
  [[nodiscard]] const Rule* find(std::string_view about, std::string_view sign) const;
  [[nodiscard]] double limit(std::string_view sign) const;
};

[[nodiscard]] const Rules& printed_rules();

[[nodiscard]] std::string rules_csv(const Rules&);

// Rows that the table does not hold, and cells that it leaves empty, stay as printed. `name` is the file's. Failure
// "wrong_rules" names the line.
[[nodiscard]] Result<Rules> rules_from_csv(std::string_view csv, const std::string& name);

}  // namespace papillote::triage
