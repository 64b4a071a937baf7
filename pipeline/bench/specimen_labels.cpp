#include "pipeline/bench/specimen_labels.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "pipeline/bench/code.h"
#include "pipeline/bench/label_grid.h"
#include "pipeline/bench/look.h"
#include "pipeline/bench/scan.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

constexpr double kMmPerPoint = 25.4 / 72;

constexpr LabelGrid kPinGrid{22, 8, 8, 31};
constexpr double kPinPad = 0.6;
constexpr double kPinModule = 0.4;  // 4.7 printed dots at 300 to the inch
constexpr double kLeastModule = 0.3;
constexpr double kOverhang = 1.17;  // height of a line of this face in its size: the last line takes that much

constexpr LabelGrid kEnvelopeGrid{62, 30, 3, 8};
constexpr double kEnvelopePad = 2.5;
constexpr double kEnvelopeModule = 0.5;

constexpr LabelGrid kTrayGrid{50, 18, 3, 13};
constexpr double kTrayPad = 2;
constexpr double kTrayCode = 13;

Type type_of(double size_pt) { return {size_pt, kBlack, Face::sans, false, Align::left, 1}; }

std::vector<std::string> words_in(const std::string& text) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : text + ' ')
    if (c == ' ' || c == '\n' || c == '\t') {
      if (!word.empty()) words.push_back(std::move(word));
      word.clear();
    } else {
      word += c;
    }
  return words;
}

struct SetText {
  double size_pt = 0;
  std::vector<std::string> lines;
};

// The largest size at which the facts fit; a line each before running on.
std::optional<SetText> fitted_facts(const Page& page, const std::vector<std::string>& facts, double width, double height,
                                    const std::vector<double>& sizes_pt) {
  for (const double size : sizes_pt)
    for (const bool run_on : {false, true}) {
      std::vector<std::string> lines = set_lines(page, facts, width, size, run_on);
      const double used = (static_cast<double>(lines.size()) - 1 + kOverhang) * size * kMmPerPoint;
      if (!lines.empty() && used <= height + 1e-9) return SetText{size, std::move(lines)};
    }
  return std::nullopt;
}

void write_lines(Page& page, Point at, double width, const SetText& text) {
  for (std::size_t k = 0; k < text.lines.size(); ++k)
    page.write({at.x, at.y + static_cast<double>(k) * text.size_pt * kMmPerPoint}, width * 1.02, text.lines[k],
               type_of(text.size_pt));
}

// One pin label or two.
std::optional<std::vector<SetText>> pin_texts(const Page& page, const LabelText& text) {
  constexpr double kWidth = kPinGrid.width - 2 * kPinPad;
  constexpr double kHeight = kPinGrid.height - 2 * 0.3;
  const std::vector<double> sizes{5, 4.5, 4};
  const std::vector<std::string> facts = text.data();
  if (auto one = fitted_facts(page, facts, kWidth, kHeight, sizes)) return std::vector{*one};
  // The place goes on the first label; coordinates and elevation go with it where they can.
  for (const bool with_position : {true, false}) {
    LabelText place = text;
    place.date.clear();
    place.collector.clear();
    LabelText event = text;
    event.country.clear();
    event.locality.clear();
    LabelText& other = with_position ? event : place;
    other.coordinates.clear();
    other.elevation.clear();
    auto first = fitted_facts(page, place.data(), kWidth, kHeight, sizes);
    auto second = fitted_facts(page, event.data(), kWidth, kHeight, sizes);
    if (first && second) return std::vector{*first, *second};
  }
  return std::nullopt;
}

void draw_pin_code(Page& page, const Area& area, const LabelText& text, const Code& code) {
  const double module = std::min(kPinModule, (area.height - 0.8) / (code.rows + 2));
  const double code_x = area.x + kPinPad + module;
  draw(page, {code_x, area.y + (area.height - code.height(module)) / 2}, code, module);
  const double x = code_x + code.width(module) + module + 0.5;
  const double width = area.right() - kPinPad - x;
  // Beside a wide code the number and the home take two lines each.
  const bool narrow = page.width_of(text.code(), {4, kBlack, Face::sans, true, Align::left, 1}) > width;
  double y = area.y + (narrow ? 0.6 : 1.1);
  y += page.write({x, y}, width, text.code(),
                  narrow ? Type{4, kBlack, Face::sans, true, Align::left, 2}
                         : page.fitted(text.code(), width, {5, kBlack, Face::sans, true, Align::left, 1}, 4));
  if (!text.tin.empty())
    page.write({x, y + 0.2}, width, fmt::format("tin {}, sheet {}", text.tin, text.sheet), lines(type_of(4), 2));
}

Result<Code> code_of(const LabelText& text, double height) {
  auto code = data_matrix(text.code());
  if (code.ok() && (code->rows + 2) * kLeastModule > height)
    return Failure{"bench", "not_encodable", fmt::format("\"{}\" is too long for the code of a label.", harmless(text.code())),
                   "Use a shorter prefix."};
  return code;
}

Result<std::vector<Code>> codes_of(const std::vector<LabelText>& texts, double height) {
  std::vector<Code> codes;
  for (const LabelText& text : texts) {
    auto code = code_of(text, height);
    if (!code.ok()) return code.failure();
    codes.push_back(std::move(code).value());
  }
  return codes;
}

Failure nothing(const char* what) {
  return {"bench", "nothing_to_print", fmt::format("There is no {} to print a label for.", what),
          "Ask for others; see 'papillote search'."};
}

std::string cannot_fit(const LabelText& text) {
  return text.data().empty() ? "nothing is known of it but its number"
                             : "its data do not fit in type of a size that can be read";
}

struct EnvelopeText {
  SetText facts;
  std::optional<SetText> verbatim;
};

std::optional<EnvelopeText> envelope_text(const Page& page, const LabelText& text, double facts_width) {
  constexpr double kFactsHeight = 13;
  constexpr double kVerbatimHeight = 9.5;
  auto facts =
      fitted_facts(page, text.data().empty() ? std::vector{text.code()} : text.data(), facts_width, kFactsHeight, {7, 6, 5});
  if (!facts) return std::nullopt;
  if (text.verbatim.empty()) return EnvelopeText{std::move(*facts), std::nullopt};
  auto verbatim = fitted_facts(page, {"\"" + joined(words_in(text.verbatim), " ") + "\""},
                               kEnvelopeGrid.width - 2 * kEnvelopePad, kVerbatimHeight, {6, 5, 4});
  if (!verbatim) return std::nullopt;
  return EnvelopeText{std::move(*facts), std::move(verbatim)};
}

}  // namespace

std::vector<std::string> set_lines(const Page& page, const std::vector<std::string>& facts, double width_mm, double size_pt,
                                   bool run_on) {
  std::vector<std::string> lines;
  std::string line;
  const auto fits = [&](const std::string& words) { return page.width_of(words, type_of(size_pt)) <= width_mm; };
  for (std::size_t k = 0; k < facts.size(); ++k) {
    std::vector<std::string> words = words_in(facts[k]);
    if (run_on && k + 1 < facts.size() && !words.empty()) words.back() += ',';
    for (std::size_t w = 0; w < words.size(); ++w) {
      const bool begins = line.empty() || (w == 0 && !run_on);
      const std::string longer = begins ? words[w] : line + ' ' + words[w];
      if (!begins && fits(longer)) {
        line = longer;
        continue;
      }
      if (!fits(words[w])) return {};
      if (!line.empty()) lines.push_back(std::move(line));
      line = words[w];
    }
  }
  if (!line.empty()) lines.push_back(std::move(line));
  return lines;
}

Result<LabelSheets> pin_labels(const std::vector<LabelText>& texts, const std::string& made) {
  if (texts.empty()) return nothing("specimen");
  const auto codes = codes_of(texts, kPinGrid.height - 0.8);
  if (!codes.ok()) return codes.failure();
  LabelSheets sheets;
  std::size_t fit = 0;
  std::string bytes =
      pdf({"Pin labels", made, "papillote · pin labels, true size: print at 100 % on rag paper with pigment ink", false},
          [&](Book& book) {
            struct Piece {
              std::size_t specimen;
              std::optional<SetText> data;  // otherwise its code
            };
            std::vector<Piece> pieces;
            sheets.unfit.clear();
            fit = 0;
            for (std::size_t k = 0; k < texts.size(); ++k) {
              const auto set = texts[k].data().empty() ? std::nullopt : pin_texts(book.page(), texts[k]);
              if (!set) {
                sheets.unfit.emplace_back(texts[k].id, cannot_fit(texts[k]));
                continue;
              }
              ++fit;
              for (const SetText& one : *set) pieces.push_back({k, one});
              pieces.push_back({k, std::nullopt});
            }
            draw_grid(book, kPinGrid, pieces.size(), [&](Page& page, const Area& area, std::size_t k) {
              const Piece& piece = pieces[k];
              if (!piece.data) return draw_pin_code(page, area, texts[piece.specimen], (*codes)[piece.specimen]);
              const SetText& text = *piece.data;
              const double height = (static_cast<double>(text.lines.size()) - 1 + kOverhang) * text.size_pt * kMmPerPoint;
              write_lines(page, {area.x + kPinPad, area.y + (area.height - height) / 2}, area.width - 2 * kPinPad, text);
            });
          });
  if (fit > 0) sheets.pdf = std::move(bytes);
  return sheets;
}

Result<LabelSheets> envelope_labels(const std::vector<LabelText>& texts, const std::string& made) {
  if (texts.empty()) return nothing("specimen");
  const auto codes = codes_of(texts, 12);
  if (!codes.ok()) return codes.failure();
  LabelSheets sheets;
  std::size_t fit = 0;
  std::string bytes =
      pdf({"Envelope labels", made,
           "papillote · envelope labels, true size: print at 100 %; the old envelope or its picture stays with the specimen",
           false},
          [&](Book& book) {
            std::vector<std::pair<std::size_t, EnvelopeText>> pieces;
            sheets.unfit.clear();
            const auto facts_width = [&](std::size_t k) {
              return kEnvelopeGrid.width - 2 * kEnvelopePad - (*codes)[k].width(kEnvelopeModule) - 2.5;
            };
            for (std::size_t k = 0; k < texts.size(); ++k) {
              auto set = envelope_text(book.page(), texts[k], facts_width(k));
              if (set)
                pieces.emplace_back(k, std::move(*set));
              else
                sheets.unfit.emplace_back(texts[k].id, cannot_fit(texts[k]));
            }
            fit = pieces.size();
            draw_grid(book, kEnvelopeGrid, pieces.size(), [&](Page& page, const Area& area, std::size_t at) {
              const auto& [k, text] = pieces[at];
              const double left = area.x + kEnvelopePad;
              const double width = area.width - 2 * kEnvelopePad;
              write_lines(page, {left, area.y + 2}, facts_width(k), text.facts);
              draw(page, {area.right() - kEnvelopePad - (*codes)[k].width(kEnvelopeModule), area.y + kEnvelopePad}, (*codes)[k],
                   kEnvelopeModule);
              if (text.verbatim) write_lines(page, {left, area.y + 16}, width, *text.verbatim);
              const LabelText& of = texts[k];
              const std::string foot = joined({of.code(), joined({of.taxon, of.sex}, " "),
                                               of.tin.empty() ? "" : fmt::format("tin {}, sheet {}", of.tin, of.sheet)},
                                              " · ");
              page.write({left, area.bottom() - 4}, width, foot,
                         page.fitted(foot, width, {6, kBlack, Face::sans, true, Align::left, 1}, 4));
            });
          });
  if (fit > 0) sheets.pdf = std::move(bytes);
  return sheets;
}

Result<std::string> tray_labels_pdf(const std::vector<TrayLabel>& labels, const std::string& made) {
  if (labels.empty()) return nothing("tray");
  std::vector<Code> codes;
  for (const TrayLabel& label : labels) {
    if (const auto plain = plain_words(label.place, "place"); !plain.ok()) return plain.failure();
    auto code = qr_code(place_code(label.place));
    if (!code.ok()) return code.failure();
    if (code->columns > 33)  // then modules are under 0.4 mm
      return Failure{"bench", "not_encodable",
                     fmt::format("\"{}\" is too long for the code of a tray label.", harmless(label.place)),
                     "Name the place in fewer words."};
    codes.push_back(std::move(code).value());
  }
  return pdf({"Tray labels", made, "papillote · tray labels, true size: print at 100 %", false}, [&](Book& book) {
    draw_grid(book, kTrayGrid, labels.size(), [&](Page& page, const Area& area, std::size_t k) {
      const double module = kTrayCode / codes[k].columns;
      const double code_x = area.right() - 2 * kTrayPad - kTrayCode + 0.5;
      draw(page, {code_x, area.y + (area.height - kTrayCode) / 2}, codes[k], module);
      const double width = code_x - codes[k].quiet * module - area.x - kTrayPad;
      double y = area.y + kTrayPad;
      if (!labels[k].heading.empty())
        y += page.write({area.x + kTrayPad, y}, width, labels[k].heading, {8, kBlack, Face::serif, true, Align::left, 2}) + 0.4;
      page.write({area.x + kTrayPad, y}, width, labels[k].place, {7, kBlack, Face::sans, false, Align::left, 2});
    });
  });
}

}  // namespace papillote::bench
