// Records in the words of a page.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/index_record.h"

namespace papillote::bench {

[[nodiscard]] std::string date_words(const Interpretation& facts);   // "1932-07", "1932-07 (doubtful)", "open: \"7/32\"", ""
[[nodiscard]] std::string place_words(const Interpretation& facts);  // "Samoëns, FR"
[[nodiscard]] std::string taxon_words(const Interpretation& facts);
[[nodiscard]] std::string kind_words(const std::string& kind);    // "water_stain" -> "water stain"
[[nodiscard]] std::string severity_words(int severity);           // "trace", "slight", "serious", "severe"
[[nodiscard]] std::string finding_words(const Finding& finding);  // "hole, serious: round hole of 1.4 mm"
[[nodiscard]] std::string joined(const std::vector<std::string>& parts, const std::string& between);
[[nodiscard]] std::string sheet_words(const std::string& sheet, const std::string& side);  // "sheet 3", "sheet 3, back"

}  // namespace papillote::bench
