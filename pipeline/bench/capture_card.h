// The capture card: scale, perspective and greys for every photograph. Lengths in mm on the card, origin at its
// upper left corner; this layout is what the calibration stage looks for.
#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "pipeline/bench/page.h"

namespace papillote::bench {

inline constexpr double kCardWidth = 110;
inline constexpr double kCardHeight = 60;

// ArUco, dictionary 4x4_50: 4 x 4 cells inside a black border of one cell.
struct CardMarker {
  Point corner;        // upper left of the black square
  std::uint16_t bits;  // row by row from the upper left, 1 = white
};
inline constexpr double kMarkerSide = 15;
inline constexpr std::array<CardMarker, 4> kCardMarkers{
    {{{2, 2}, 0xB532}, {{93, 2}, 0x0F9A}, {{93, 43}, 0x332D}, {{2, 43}, 0x9946}}};

inline constexpr Point kBarFrom{5, 19};
inline constexpr double kBarLength = 100;

inline constexpr double kPatchWidth = 7.6;
inline constexpr double kPatchHeight = 11.5;
inline constexpr std::array<unsigned, 12> kPatchColours{0xf3f3f2, 0xc8c8c8, 0xa0a0a0, 0x7a7a79, 0x555555, 0x343434,
                                                        0x383d96, 0x469449, 0xaf363c, 0xe7c71f, 0xbb5695, 0x0885a1};
[[nodiscard]] constexpr Area patch_area(std::size_t k) {
  return {7 + 8 * static_cast<double>(k), 29.5, kPatchWidth, kPatchHeight};
}

void draw_capture_card(Page& page, Point corner);

// One page: the card to cut out, rules to check the printer with, and how to use both.
[[nodiscard]] std::string capture_card_pdf(const std::string& made);

}  // namespace papillote::bench
