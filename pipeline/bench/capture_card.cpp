#include "pipeline/bench/capture_card.h"

#include <fmt/format.h>

#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr int kCells = 4;
constexpr Ink kFrame = ink_of(0xa8a8a8);

void draw_marker(Page& page, Point corner, std::uint16_t bits) {
  constexpr double kCell = kMarkerSide / (kCells + 2);
  page.fill({corner.x, corner.y, kMarkerSide, kMarkerSide}, kBlack);
  std::vector<Point> white;
  for (int row = 0; row < kCells; ++row)
    for (int column = 0; column < kCells; ++column)
      if ((bits >> (15 - (row * kCells + column)) & 1) != 0)
        white.push_back({corner.x + (column + 1) * kCell, corner.y + (row + 1) * kCell});
  page.cells(white, kCell, kWhite);
}

// A rule along x or y with a tick every millimetre on its far side, numbered every ten.
void draw_rule(Page& page, Point from, int length, bool upright, double tick) {
  const auto along = [&](double mm, double off) {
    return upright ? Point{from.x + off, from.y + mm} : Point{from.x + mm, from.y + off};
  };
  page.line(along(0, 0), along(length, 0), kBlack, 0.2);
  const Type figures{5.6, kBlack, Face::sans, false, upright ? Align::left : Align::centre, 1};
  for (int mm = 0; mm <= length; ++mm) {
    const double reach = mm % 10 == 0 ? tick : mm % 5 == 0 ? tick * 0.75 : tick * 0.5;
    page.line(along(mm, 0), along(mm, reach), kBlack, mm % 10 == 0 ? 0.2 : 0.14);
    if (mm % 10 != 0) continue;
    if (upright)
      page.write(along(mm - 1.15, tick + 0.8), 10, std::to_string(mm), figures);
    else
      page.write(along(mm - 5, tick + 0.2), 10, std::to_string(mm), figures);
  }
}

}  // namespace

void draw_capture_card(Page& page, Point corner) {
  const auto on_page = [&](Point on_card) { return Point{corner.x + on_card.x, corner.y + on_card.y}; };
  page.frame({corner.x, corner.y, kCardWidth, kCardHeight}, kFrame, 0.2);
  for (const CardMarker& marker : kCardMarkers) draw_marker(page, on_page(marker.corner), marker.bits);
  draw_rule(page, on_page(kBarFrom), static_cast<int>(kBarLength), false, 3.2);
  for (std::size_t k = 0; k < kPatchColours.size(); ++k) {
    const Area patch = patch_area(k);
    page.fill({corner.x + patch.x, corner.y + patch.y, patch.width, patch.height}, ink_of(kPatchColours[k]));
  }
  const double middle = kMarkerSide + 2 + 4;
  const double width = kCardWidth - 2 * middle;
  page.write(on_page({middle, 4.6}), width, "papillote", {13, kText, Face::serif, false, Align::centre, 1});
  page.write(on_page({middle, 10.6}), width, "capture card · this side up", aligned(lines(kSmall, 1), Align::centre));
  page.write(on_page({middle, 46}), width, "100 mm from 0 to 100: measure once with a steel rule",
             aligned(lines(kSmall, 2), Align::centre));
  page.write(on_page({middle, 50}), width, "lay flat, level with the envelopes, no glare on the greys",
             aligned(lines(kSmall, 2), Align::centre));
}

std::string capture_card_pdf(const std::string& made) {
  return pdf({"Capture card", made, "papillote · capture card, true size", false}, [](Book& book) {
    Page& page = book.turn();
    const double width = page.width() - 2 * kMarginMm;
    double y = kMarginMm;
    y += page.write({kMarginMm, y}, width, "Capture card", kTitle) + 1.5;
    y += page.write({kMarginMm, y}, width,
                    "Print on matt white card at true size: 100 %, no \"fit to page\", no scaling. Cut along the grey frame.",
                    kBody) +
         6;
    draw_capture_card(page, {(page.width() - kCardWidth) / 2, y});
    y += kCardHeight + 9;

    page.write({kMarginMm, y}, width, "Is the print true?", kHeading);
    y += 7.5;
    y += page.write(
             {kMarginMm, y}, width - 40,
             "Measure the bar on the card and the two rules below with a steel rule, once for each printer and paper. Printers "
             "often stretch one direction only: a card that is right along the bar can still be wrong across it. If either "
             "differs by more than 0.2 mm in 100, correct the printer's scaling and print again; do not correct by reckoning.",
             kBody) +
         6;
    const double rules = y;
    draw_rule(page, {kMarginMm, rules}, 100, false, 3.2);
    page.write({kMarginMm, rules + 6.6}, 100, "across the paper: 0 to 100 must measure 100.0 mm", kSmall);
    draw_rule(page, {page.width() - kMarginMm - 22, rules - 18}, 100, true, 3.2);
    page.write({page.width() - kMarginMm - 36, rules + 84}, 36, "along the paper: 100.0 mm", aligned(kSmall, Align::centre));

    y = rules + 16;
    const double column = 128;
    page.write({kMarginMm, y}, column, "MEASURED", kCaps);
    y += 4.5;
    for (const char* what :
         {"bar on the card, mm", "rule across, mm", "rule along, mm", "printer and paper", "date and name"}) {
      page.write({kMarginMm, y + 1}, 40, what, kBody);
      page.line({kMarginMm + 36, y + 4.8}, {kMarginMm + column - 6, y + 4.8}, kRule, 0.25);
      y += 7;
    }
    y += 4;
    page.write({kMarginMm, y}, column, "IN USE", kCaps);
    y += 4.5;
    for (const char* line :
         {"Lay the card flat beside the envelopes, at their height, wholly in the frame, in every photograph.",
          "The four black squares give scale and perspective; keep them clean, uncovered and away from shadows.",
          "The six greys give white balance and exposure. The six colours of a home-printed card are not known: colour error "
          "is reported only where measured patch values are recorded with the collection.",
          "Print a new card when the white yellows or the corners curl."}) {
      page.disc({kMarginMm + 1, y + 1.75}, 0.5, kQuiet);
      y += page.write({kMarginMm + 4, y}, column - 10, line, kBody) + 1.2;
    }
  });
}

}  // namespace papillote::bench
