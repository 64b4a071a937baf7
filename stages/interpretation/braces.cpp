#include "stages/interpretation/braces.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

namespace papillote::interpretation {
namespace {

struct Sign {
  std::string_view text;
  bool closes;   // its point is to the right: it joins what stands before it
  bool certain;  // a brace and nothing else
};
constexpr std::array<Sign, 12> kSigns{{{"}", true, true},
                                       {"{", false, true},
                                       {"⎫", true, true},
                                       {"⎬", true, true},
                                       {"⎭", true, true},
                                       {"⎧", false, true},
                                       {"⎨", false, true},
                                       {"⎩", false, true},
                                       {")", true, false},
                                       {"]", true, false},
                                       {"(", false, false},
                                       {"[", false, false}}};

struct Found {
  LinePart at;
  bool closes = true, certain = false;
};

bool is_bracket(std::string_view sign) { return sign == "(" || sign == ")" || sign == "[" || sign == "]"; }

// The first sign of the line that may be a brace: a pair of brackets is none.
std::optional<Found> sign_in(std::string_view text, int line) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    for (const Sign& sign : kSigns) {
      if (!text.substr(i).starts_with(sign.text)) continue;
      if (is_bracket(sign.text)) {
        const bool opens = !sign.closes;
        const std::string_view rest = opens ? text.substr(i + 1) : text.substr(0, i);
        if (rest.find_first_of(opens ? ")]" : "([") != std::string_view::npos) continue;
      }
      return Found{{line, i, i + sign.text.size()}, sign.closes, sign.certain};
    }
  }
  return std::nullopt;
}

std::optional<LinePart> trimmed(std::string_view text, int line, std::size_t begin, std::size_t end) {
  constexpr std::string_view kSpace = " \t";
  const std::size_t first = text.find_first_not_of(kSpace, begin);
  if (first == std::string_view::npos || first >= end) return std::nullopt;
  return LinePart{line, first, text.find_last_not_of(kSpace, end - 1) + 1};
}

struct Box {
  double left = 0, right = 0, top = 0, bottom = 0;

  [[nodiscard]] double width() const { return right - left; }
  [[nodiscard]] double height() const { return bottom - top; }
  [[nodiscard]] double middle() const { return (top + bottom) / 2; }
};

// Upright as the text reads: along the line and across it.
Box box_of(const Quad& quad, const Quad& level) {
  const double dx = level[1].x - level[0].x, dy = level[1].y - level[0].y, length = std::hypot(dx, dy);
  Box box{1e30, -1e30, 1e30, -1e30};
  for (const Point& p : quad) {
    const double along = (p.x * dx + p.y * dy) / length, across = (p.y * dx - p.x * dy) / length;
    box = {std::min(box.left, along), std::max(box.right, along), std::min(box.top, across), std::max(box.bottom, across)};
  }
  return box;
}

bool has_extent(const Quad& quad) { return std::hypot(quad[1].x - quad[0].x, quad[1].y - quad[0].y) > 0; }

class Finder {
 public:
  explicit Finder(const Annotation& annotation) : annotation_(annotation), taken_(annotation.lines.size()) {}

  std::vector<Brace> find() {
    std::vector<Brace> all;
    for (int line = 0; line < count(); ++line) {
      if (taken_[at(line)]) continue;
      if (auto brace = tall(line)) all.push_back(take(std::move(*brace)));
    }
    for (int line = 0; line < count(); ++line) {
      if (taken_[at(line)]) continue;
      if (auto brace = repeated(line)) all.push_back(take(std::move(*brace)));
    }
    std::ranges::sort(all, {}, [](const Brace& brace) { return brace.joined.front().line; });
    return all;
  }

 private:
  static std::size_t at(int line) { return static_cast<std::size_t>(line); }
  [[nodiscard]] int count() const { return static_cast<int>(annotation_.lines.size()); }
  [[nodiscard]] const std::string& text(int line) const { return annotation_.lines[at(line)].text; }
  [[nodiscard]] bool written(int line) const {
    return annotation_.lines[at(line)].line.kind != LineKind::newsprint && !text(line).empty();
  }

  Brace take(Brace brace) {
    for (const auto* parts : {&brace.joined, &brace.shared, &brace.signs})
      for (const LinePart& part : *parts) taken_[at(part.line)] = true;
    return brace;
  }

  // The sign on lines that follow one another: what stands before "}" is joined, what stands behind it is shared.
  [[nodiscard]] std::optional<Brace> repeated(int first) const {
    if (!written(first)) return std::nullopt;
    const auto begin = sign_in(text(first), first);
    if (!begin) return std::nullopt;
    Brace brace;
    int lines = 0;
    for (int line = first; line < count() && written(line) && !taken_[at(line)]; ++line, ++lines) {
      const auto sign = sign_in(text(line), line);
      if (!sign || sign->closes != begin->closes) break;
      add(brace, *sign);
    }
    constexpr int kFewest = 2;
    // One certain brace in the middle of a line, with whole lines above and below it, was drawn over all three.
    if (lines == 1 && begin->certain && first > 0 && first + 1 < count()) {
      for (const int beside : {first - 1, first + 1}) {
        if (!written(beside) || taken_[at(beside)] || sign_in(text(beside), beside)) continue;
        if (const auto whole = trimmed(text(beside), beside, 0, text(beside).size())) brace.joined.push_back(*whole);
      }
      std::ranges::sort(brace.joined, {}, &LinePart::line);
    } else if (lines < kFewest) {
      return std::nullopt;
    }
    return complete(brace) ? std::optional(std::move(brace)) : std::nullopt;
  }

  void add(Brace& brace, const Found& sign) const {
    const std::string_view words = text(sign.at.line);
    brace.signs.push_back(sign.at);
    auto& before = sign.closes ? brace.joined : brace.shared;
    auto& behind = sign.closes ? brace.shared : brace.joined;
    if (const auto part = trimmed(words, sign.at.line, 0, sign.at.begin)) before.push_back(*part);
    if (const auto part = trimmed(words, sign.at.line, sign.at.end, words.size())) behind.push_back(*part);
  }

  // A line that holds a sign alone and is as high as the lines beside it together.
  [[nodiscard]] std::optional<Brace> tall(int line) const {
    if (!written(line) || !has_extent(annotation_.lines[at(line)].line.quad_px)) return std::nullopt;
    const auto sign = sign_in(text(line), line);
    if (!sign || text(line).size() > sign->at.end + 1 || sign->at.begin > 1) return std::nullopt;
    const auto level = direction(line);
    if (!level) return std::nullopt;
    const Box box = box_of(annotation_.lines[at(line)].line.quad_px, *level);
    Brace brace;
    brace.signs.push_back(sign->at);
    for (int other = 0; other < count(); ++other) {
      if (other == line || !written(other) || taken_[at(other)]) continue;
      const Box beside = box_of(annotation_.lines[at(other)].line.quad_px, *level);
      if (beside.middle() < box.top || beside.middle() > box.bottom) continue;
      const bool before = (beside.left + beside.right) / 2 < (box.left + box.right) / 2;
      auto& side = before == sign->closes ? brace.joined : brace.shared;
      if (const auto part = trimmed(text(other), other, 0, text(other).size())) side.push_back(*part);
    }
    return complete(brace) ? std::optional(std::move(brace)) : std::nullopt;
  }

  // The level of the longest line: a tall sign has none of its own.
  [[nodiscard]] std::optional<Quad> direction(int besides) const {
    std::optional<Quad> level;
    double longest = 0;
    for (int line = 0; line < count(); ++line) {
      const Quad& quad = annotation_.lines[at(line)].line.quad_px;
      const double length = std::hypot(quad[1].x - quad[0].x, quad[1].y - quad[0].y);
      if (line == besides || !written(line) || length <= longest) continue;
      longest = length;
      level = quad;
    }
    return level;
  }

  static bool complete(const Brace& brace) { return brace.joined.size() >= 2 && !brace.shared.empty(); }

  const Annotation& annotation_;
  std::vector<bool> taken_;
};

}  // namespace

std::vector<Brace> braces_in(const Annotation& annotation) { return Finder(annotation).find(); }

}  // namespace papillote::interpretation
