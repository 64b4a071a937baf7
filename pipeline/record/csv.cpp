#include "pipeline/record/csv.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace papillote {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

bool is_number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size();
}

std::string trimmed(std::string_view cell) {
  constexpr std::string_view kBlanks = " \t\r";
  const std::size_t begin = cell.find_first_not_of(kBlanks);
  if (begin == std::string_view::npos) return {};
  cell = cell.substr(begin, cell.find_last_not_of(kBlanks) + 1 - begin);
  if (cell.size() > 1 && cell.front() == '\'' && no_formula(cell.substr(1)) == cell) cell.remove_prefix(1);
  return std::string(cell);
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

std::vector<CsvRow> csv_rows(std::string_view text, char separator) {
  if (text.starts_with(kByteOrderMark)) text.remove_prefix(kByteOrderMark.size());
  std::vector<CsvRow> rows;
  int line = 1;
  std::size_t at = 0;
  while (at < text.size()) {
    CsvRow row{line, {""}};
    bool quoted = false;
    for (; at < text.size(); ++at) {
      const char c = text[at];
      if (c == '\n') ++line;
      if (quoted) {
        if (c != '"') {
          row.cells.back() += c;
        } else if (at + 1 < text.size() && text[at + 1] == '"') {
          row.cells.back() += c;
          ++at;
        } else {
          quoted = false;
        }
      } else if (c == '"') {
        quoted = true;
      } else if (c == separator) {
        row.cells.emplace_back();
      } else if (c == '\n') {
        ++at;
        break;
      } else {
        row.cells.back() += c;
      }
    }
    for (std::string& cell : row.cells) cell = trimmed(cell);
    if (std::any_of(row.cells.begin(), row.cells.end(), [](const std::string& cell) { return !cell.empty(); }))
      rows.push_back(std::move(row));
  }
  return rows;
}

char separator_of(std::string_view text) {
  constexpr std::array kSeparators{',', ';', '\t'};
  std::array<std::size_t, 3> counts{};
  bool quoted = false;
  for (const char c : text) {
    if (c == '"') quoted = !quoted;
    for (std::size_t k = 0; k < kSeparators.size(); ++k) counts[k] += !quoted && c == kSeparators[k] ? 1 : 0;
  }
  return kSeparators[static_cast<std::size_t>(std::max_element(counts.begin(), counts.end()) - counts.begin())];
}

std::vector<CsvRow> kept_rows(std::string_view text) {
  std::string kept;  // remarks are prose: neither their separators nor their quotes count
  if (text.starts_with(kByteOrderMark)) text.remove_prefix(kByteOrderMark.size());
  while (!text.empty()) {
    const std::string_view line = text.substr(0, text.find('\n'));
    if (!line.starts_with("#") && !line.starts_with("\"#")) kept += line;
    kept += '\n';
    text.remove_prefix(std::min(text.size(), line.size() + 1));
  }
  return csv_rows(kept, separator_of(kept));
}

std::optional<double> number_in(std::string_view cell) {
  std::string text(cell);
  if (const std::size_t comma = text.find(','); comma != std::string::npos && text.find('.') == std::string::npos) text[comma] = '.';
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

}  // namespace papillote
