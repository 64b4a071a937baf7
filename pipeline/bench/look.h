// One look for everything that is printed: inks, type and margins. Levels of priority are told apart by word and
// by mark as well as by colour, so that a grey print loses nothing.
#pragma once

#include <string>
#include <string_view>

#include "pipeline/bench/page.h"

namespace papillote::bench {

inline constexpr Ink kText = ink_of(0x1f1f1c);
inline constexpr Ink kQuiet = ink_of(0x6b6a63);
inline constexpr Ink kRule = ink_of(0xc9c5b8);
inline constexpr Ink kPaperTint = ink_of(0xf5f2e9);
inline constexpr Ink kCaution = ink_of(0x8a5a00);
inline constexpr Ink kCautionTint = ink_of(0xfbf3df);
inline constexpr Ink kBlack = ink_of(0x000000);
inline constexpr Ink kWhite = ink_of(0xffffff);

inline constexpr double kMarginMm = 14;
inline constexpr double kHairlineMm = 0.15;

inline constexpr Type kTitle{18, kText, Face::serif, false, Align::left, 2};
inline constexpr Type kHeading{12, kText, Face::serif, true, Align::left, 1};
inline constexpr Type kBody{8, kText, Face::sans, false, Align::left, 0};
inline constexpr Type kStrong{8, kText, Face::sans, true, Align::left, 0};
inline constexpr Type kSmall{6.8, kQuiet, Face::sans, false, Align::left, 0};
inline constexpr Type kCaps{6.2, kQuiet, Face::sans, true, Align::left, 1};
inline constexpr Type kVerbatim{8.6, kText, Face::serif, false, Align::left, 0};

[[nodiscard]] constexpr Type with(Type type, const Ink& ink) { return type.ink = ink, type; }
[[nodiscard]] constexpr Type lines(Type type, int most) { return type.most_lines = most, type; }
[[nodiscard]] constexpr Type aligned(Type type, Align align) { return type.align = align, type; }

// How a level of priority is shown. Levels this table does not know are shown as "routine" is, under their own name.
struct LevelLook {
  std::string_view level;
  std::string words;
  std::string mark;  // told apart without colour
  Ink ink;
};
[[nodiscard]] LevelLook look_of_level(std::string_view level);
// "isolate" before "stabilise" before "valuable" before "routine" before any other.
[[nodiscard]] int rank_of_level(std::string_view level);

// An empty square to be ticked by hand, with its word to the right.
void tick_box(Page& page, Point at, std::string_view word);
// A caution: heading and paragraphs on a tint with a bar at its left. Answers the height used.
[[nodiscard]] double caution_height(const Page& page, double width, std::string_view heading, std::string_view text);
double caution(Page& page, Point at, double width, std::string_view heading, std::string_view text);

}  // namespace papillote::bench
