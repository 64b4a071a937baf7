#include "pipeline/bench/slips.h"

#include <fmt/format.h>

#include <limits>

#include "pipeline/bench/code.h"
#include "pipeline/bench/label_grid.h"
#include "pipeline/bench/look.h"
#include "pipeline/record/check_character.h"

namespace papillote::bench {
namespace {

constexpr LabelGrid kGrid{36, 13, 5, 20};
constexpr double kModule = 0.5;  // five pixels at 10 px/mm
constexpr int kMostSlips = 10000;

// In the order of the eye: letters, then digits in threes from the right, the check character apart.
std::string spaced(const std::string& number) {
  const std::string body = number.substr(0, number.size() - 1);
  std::size_t digits = body.size();
  while (digits > 0 && body[digits - 1] >= '0' && body[digits - 1] <= '9') --digits;
  std::string text = body.substr(0, digits);
  for (std::size_t at = digits; at < body.size(); ++at) {
    if (at > digits ? (body.size() - at) % 3 == 0 : digits > 0) text += ' ';
    text += body[at];
  }
  return fmt::format("{}-{}", text, number.back());
}

void draw_slip(Page& page, const Area& area, const std::string& number, const Code& code) {
  constexpr double kPad = 1.8;
  const double code_x = area.right() - kPad - code.width(kModule);
  draw(page, {code_x, area.y + (area.height - code.height(kModule)) / 2}, code, kModule);
  const double width = code_x - code.quiet * kModule - 0.6 - (area.x + kPad);
  const Type type = page.fitted(spaced(number), width, {8.5, kBlack, Face::sans, true, Align::left, 2}, 5.5);
  const double height = page.height_of(width, spaced(number), type);
  page.write({area.x + kPad, area.y + (area.height - height) / 2}, width, spaced(number), type);
}

}  // namespace

Result<std::vector<std::string>> catalogue_numbers(const std::string& prefix, int from, int count, int digits) {
  if (count < 1 || count > kMostSlips || from < 0 || from > std::numeric_limits<int>::max() - count)
    return Failure{"bench", "nothing_to_print", fmt::format("{} slips from number {} cannot be printed.", count, from),
                   fmt::format("Ask for 1 to {} slips from a number of 0 or more.", kMostSlips)};
  std::vector<std::string> numbers;
  for (int number = from; number < from + count; ++number) {
    std::string text = fmt::format("{}{:0{}}", prefix, number, digits);
    const auto check = check_character(text);
    if (!check)
      return Failure{"bench", "not_a_number", fmt::format("\"{}\" cannot begin a catalogue number.", harmless(prefix)),
                     "Use letters A to Z and digits, with blanks or - . / _ between them."};
    numbers.push_back(text + *check);
  }
  return numbers;
}

Result<std::string> slips_pdf(const std::vector<std::string>& numbers, const std::string& made) {
  if (numbers.empty())
    return Failure{"bench", "nothing_to_print", "There is no number to print.", "Ask for at least one slip."};
  std::vector<Code> codes;
  for (const std::string& number : numbers) {
    auto code = data_matrix(number);
    if (!code) return code.failure();
    if (code->width(kModule) > kGrid.width / 2 || code->height(kModule) > kGrid.height - 2)
      return Failure{"bench", "not_encodable", fmt::format("\"{}\" is too long for a slip.", harmless(number)),
                     "Use a shorter prefix."};
    codes.push_back(std::move(code).value());
  }
  return pdf({"Identifier slips", made, "papillote · identifier slips, true size: print at 100 %", false}, [&](Book& book) {
    draw_grid(book, kGrid, numbers.size(),
              [&](Page& page, const Area& area, std::size_t k) { draw_slip(page, area, numbers[k], codes[k]); });
  });
}

}  // namespace papillote::bench
