#include "pipeline/bench/sheet_label.h"

#include <fmt/format.h>

#include <algorithm>

#include "pipeline/bench/code.h"
#include "pipeline/bench/label_grid.h"
#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr LabelGrid kGrid{91, 30, 2, 9};
constexpr double kCodeSide = 20;  // a version 2 code then has modules of 0.8 mm, eight pixels at 10 px/mm
constexpr double kPad = 4;

bool is_name(const std::string& text) {
  return !text.empty() && std::none_of(text.begin(), text.end(), [](char c) {
    return c == ';' || c == '=' || (static_cast<unsigned char>(c) < 0x20) || c == 0x7F;
  });
}

void draw_label(Page& page, const Area& area, const SheetLabel& label, const Code& code) {
  const double module = kCodeSide / std::max(code.columns, code.rows);
  const double code_x = area.right() - kPad - kCodeSide;
  draw(page, {code_x, area.y + (area.height - kCodeSide) / 2}, code, module);

  const double width = code_x - code.quiet * module - area.x - kPad;
  const std::string words = fmt::format("TIN {} / sheet {}", label.tin, label.sheet);
  const Type type = page.fitted(words, width, {17, kBlack, Face::sans, true, Align::left, 2}, 7);
  double y = area.y + 6.5;
  y += page.write({area.x + kPad, y}, width, words, type) + 0.8;
  page.write({area.x + kPad, y}, width, label.back ? "BACK of the envelopes" : "front",
             {9, kBlack, Face::sans, label.back, Align::left, 1});
  if (!label.period.empty())
    page.write({area.x + kPad, area.bottom() - 7.6}, width, label.period,
               page.fitted(label.period, width, {9, kBlack, Face::serif, false, Align::left, 1}, 6));
}

}  // namespace

std::string code_text(const SheetLabel& label) {
  return fmt::format("tin={};sheet={}{}", label.tin, label.sheet, label.back ? ";side=back" : "");
}

Result<std::string> sheet_labels_pdf(const std::vector<SheetLabel>& labels, const std::string& made) {
  if (labels.empty()) return Failure{"bench", "nothing_to_print", "There is no sheet to label.", "Name sheets, as in 1-12."};
  std::vector<Code> codes;
  for (const SheetLabel& label : labels) {
    for (const std::string& name : {label.tin, label.sheet})
      if (!is_name(name))
        return Failure{"bench", "not_a_name", fmt::format("\"{}\" cannot name a tin or sheet.", harmless(name)),
                       "Give a name of at least one character without ; = or control characters."};
    auto code = qr_code(code_text(label));
    if (!code) return code.failure();
    codes.push_back(std::move(code).value());
  }
  return pdf({"Sheet labels", made, "papillote · sheet labels, true size: print at 100 %", false}, [&](Book& book) {
    draw_grid(book, kGrid, labels.size(),
              [&](Page& page, const Area& area, std::size_t k) { draw_label(page, area, labels[k], codes[k]); });
  });
}

}  // namespace papillote::bench
