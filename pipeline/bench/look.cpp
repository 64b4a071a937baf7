#include "pipeline/bench/look.h"

#include <array>

namespace papillote::bench {
namespace {

constexpr double kCautionPad = 2.4;
constexpr double kCautionBar = 1.1;
constexpr double kCautionGap = 0.8;
constexpr Type kCautionHead = with(kStrong, kCaution);

const std::array<LevelLook, 4>& levels() {
  static const std::array<LevelLook, 4> all{{{"isolate", "isolate now", "▲", ink_of(0x9b2d1f)},
                                             {"stabilise", "stabilise soon", "◆", ink_of(0xa86a12)},
                                             {"valuable", "type or rare", "★", ink_of(0x2c5282)},
                                             {"routine", "routine", "●", ink_of(0x5d6b5a)}}};
  return all;
}

}  // namespace

LevelLook look_of_level(std::string_view level) {
  for (const LevelLook& look : levels())
    if (look.level == level) return look;
  LevelLook other = levels().back();
  other.words = level;
  return other;
}

int rank_of_level(std::string_view level) {
  int rank = 0;
  for (const LevelLook& look : levels()) {
    if (look.level == level) return rank;
    ++rank;
  }
  return rank;
}

void tick_box(Page& page, Point at, std::string_view word) {
  constexpr double kSide = 3.4;
  page.frame({at.x, at.y, kSide, kSide}, kText, 0.25);
  if (!word.empty()) page.write({at.x + kSide + 1.2, at.y + 0.3}, 30, word, lines(kSmall, 1));
}

double caution_height(const Page& page, double width, std::string_view heading, std::string_view text) {
  const double inner = width - kCautionBar - 2 * kCautionPad;
  return page.height_of(inner, heading, kCautionHead) + kCautionGap + page.height_of(inner, text, kBody) + 2 * kCautionPad;
}

double caution(Page& page, Point at, double width, std::string_view heading, std::string_view text) {
  const double inner = width - kCautionBar - 2 * kCautionPad;
  const double height = caution_height(page, width, heading, text);
  page.fill({at.x, at.y, width, height}, kCautionTint);
  page.fill({at.x, at.y, kCautionBar, height}, kCaution);
  const double x = at.x + kCautionBar + kCautionPad;
  const double head = page.write({x, at.y + kCautionPad}, inner, heading, kCautionHead);
  page.write({x, at.y + kCautionPad + head + kCautionGap}, inner, text, kBody);
  return height;
}

}  // namespace papillote::bench
