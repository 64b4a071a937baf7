// Tables for spreadsheets: RFC 4180 quoting; a cell that would be taken for a formula begins with an apostrophe. A plain
// number is none, whatever its sign.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace papillote {

[[nodiscard]] std::string no_formula(std::string_view text);
[[nodiscard]] std::string csv_cell(std::string_view text);
[[nodiscard]] std::string csv_row(const std::vector<std::string>& cells);  // ends in CR LF

struct CsvRow {
  int line = 0;  // where it begins, 1, 2 ...
  std::vector<std::string> cells;
};

// Rows that hold anything. Quoted cells may hold separators, doubled quotes and line ends; blanks around a cell, a byte order
// mark and the apostrophe of `no_formula` are left out.
[[nodiscard]] std::vector<CsvRow> csv_rows(std::string_view text, char separator);

// What parts the cells of a table that a spreadsheet wrote: the one of ',' ';' tab that is most frequent outside quotes.
[[nodiscard]] char separator_of(std::string_view text);

// The rows of a table that a person keeps, whatever its separator; lines that begin with '#' are remarks and left out.
[[nodiscard]] std::vector<CsvRow> kept_rows(std::string_view text);

// A whole cell as a number, with a decimal point or a decimal comma.
[[nodiscard]] std::optional<double> number_in(std::string_view cell);

}  // namespace papillote
