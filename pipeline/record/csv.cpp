#include "pipeline/record/csv.h"

namespace papillote {

std::string csv_cell(std::string_view text) {
  constexpr std::string_view kFormulaStarts = "=+-@\t\r\n";
  std::string cell;
  if (!text.empty() && kFormulaStarts.find(text.front()) != std::string_view::npos) cell += '\'';
  cell += text;
  if (cell.find_first_of(",\"\r\n;") == std::string::npos) return cell;
  std::string quoted = "\"";
  for (const char c : cell) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string csv_row(const std::vector<std::string>& cells) {
  std::string row;
  for (const std::string& cell : cells) {
    if (&cell != &cells.front()) row += ',';
    row += csv_cell(cell);
  }
  return row + "\r\n";
}

}  // namespace papillote
