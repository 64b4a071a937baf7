// Tables for spreadsheets: RFC 4180 quoting; a cell that would be taken for a formula begins with an apostrophe. A plain
// number is none, whatever its sign.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace papillote {

[[nodiscard]] std::string no_formula(std::string_view text);
[[nodiscard]] std::string csv_cell(std::string_view text);
[[nodiscard]] std::string csv_row(const std::vector<std::string>& cells);  // ends in CR LF

}  // namespace papillote
