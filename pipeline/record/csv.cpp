#include "pipeline/record/csv.h"

#include <charconv>

namespace papillote {
namespace {

bool is_number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size();
}

}  // namespace

std::string no_formula(std::string_view text) {
  constexpr std::string_view kFormulaStarts = "=+-@\t\r\n";
  const bool formula = !text.empty() && kFormulaStarts.find(text.front()) != std::string_view::npos && !is_number(text);
  return (formula ? "'" : "") + std::string(text);
}

std::string csv_cell(std::string_view text) {
  const std::string cell = no_formula(text);
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
