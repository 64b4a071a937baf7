#include "pipeline/bench/session_report.h"

#include <fmt/format.h>

#include <algorithm>

#include "pipeline/bench/look.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

constexpr double kWidth = 210 - 2 * kMarginMm;
constexpr double kBottom = 297 - 16;
constexpr Ink kRetake = ink_of(0xa3261f);

// Response over spatial frequency, one line a photograph.
void draw_curves(Page& page, const Area& area, const Session& session) {
  page.write({area.x, area.y - 4.5}, area.width, "RESPONSE OF THE CARD'S EDGES", kCaps);
  page.fill(area, kPaperTint);
  const double span = 0.5;  // cycles a pixel: half the sampling frequency
  for (int i = 0; i <= 4; ++i) {
    const double y = area.bottom() - area.height * i / 4;
    page.line({area.x, y}, {area.right(), y}, kRule, kHairlineMm);
    page.write({area.x - 8, y - 1.4}, 7, fmt::format("{:.2f}", i / 4.0), aligned(lines(kSmall, 1), Align::right));
    const double x = area.x + area.width * i / 4;
    page.write({x - 5, area.bottom() + 0.8}, 10, fmt::format("{:.3g}", span * i / 4), aligned(lines(kSmall, 1), Align::centre));
  }
  page.write({area.x, area.bottom() + 4}, area.width, "cycles a pixel; modulation is 1 where nothing is lost", kSmall);
  for (const SessionShot& shot : session.shots) {
    Point last;
    for (std::size_t k = 0; k < shot.modulation.size() && 0.01 * static_cast<double>(k) <= span; ++k) {
      const double level = std::clamp(shot.modulation[k], 0.0, 1.0);
      const Point now{area.x + area.width * 0.01 * static_cast<double>(k) / span, area.bottom() - area.height * level};
      if (k > 0) page.line(last, now, shot.verdict == "retake" ? kRetake : kText, 0.2);
      last = now;
    }
  }
}

void draw_aims(Page& page, Point at, double width, const Session& session) {
  page.write({at.x, at.y - 4.5}, width, "BESIDE PUBLISHED AIMS, A MISS WHERE THERE IS ONE", kCaps);
  double y = at.y;
  for (const SessionAim& aim : session.aims) {
    page.write({at.x, y}, width * 0.36, aim.metric, lines(kBody, 1));
    page.write({at.x + width * 0.36, y}, width * 0.24, aim.measured, lines(aim.met ? kBody : with(kStrong, kCaution), 1));
    page.write({at.x + width * 0.60, y}, width * 0.40, fmt::format("{}: {}", aim.met ? "met" : "not met", aim.aim), lines(kSmall, 1));
    page.write({at.x + width * 0.60, y + 2.7}, width * 0.40, aim.source, lines(kSmall, 1));
    y += 6.2;
  }
}

double draw_shot(Page& page, double y, const SessionShot& shot) {
  const bool retake = shot.verdict == "retake";
  page.write({kMarginMm, y}, 16, retake ? "✕ retake" : "ok", lines(retake ? with(kStrong, kRetake) : kBody, 1));
  page.write({kMarginMm + 17, y}, 60, shot.file, lines(kBody, 1));
  page.write({kMarginMm + 78, y}, 38, shot.sheet.empty() ? "no sheet label" : shot.sheet, lines(kBody, 1));
  if (shot.envelopes >= 0) page.write({kMarginMm + 117, y}, 10, std::to_string(shot.envelopes), aligned(lines(kBody, 1), Align::right));
  const Type words = lines(kSmall, 2);
  return std::max(4.0, page.write({kMarginMm + 129, y}, kWidth - 129, joined(shot.reasons, "; "), words)) + 0.8;
}

void draw(Book& book, const Session& session, const std::string& made) {
  Page& page = book.turn();
  std::vector<SessionShot> order = session.shots;
  std::stable_partition(order.begin(), order.end(), [](const SessionShot& s) { return s.verdict == "retake"; });
  const auto again = std::count_if(order.begin(), order.end(), [](const SessionShot& s) { return s.verdict == "retake"; });
  double y = kMarginMm;
  y += page.write({kMarginMm, y}, kWidth, "Session at the copy stand", kTitle) + 1;
  y += page.write({kMarginMm, y}, kWidth,
                  fmt::format("{}: {} photographs, {} to be taken again before the envelopes go back.", made.substr(0, 10), order.size(), again), kBody) + 2;
  if (!session.questions.empty()) {
    const std::string text = joined(session.questions, "; ");
    y += caution(page, {kMarginMm, y}, kWidth, "Look before closing the tin", text) + 3;
  }
  const double half = (kWidth - 8) / 2;
  const double top = y + 6;
  const double plots = std::max(48.0, 6.2 * static_cast<double>(session.aims.size()));
  draw_curves(page, {kMarginMm + 8, top, half - 12, 44}, session);
  draw_aims(page, {kMarginMm + half + 8, top}, half, session);
  y = top + plots + 6;
  for (const auto& [x, word] : {std::pair{0.0, "VERDICT"}, {17.0, "PHOTOGRAPH"}, {78.0, "SHEET"}, {112.0, "ENVELOPES"}, {129.0, "WHY"}})
    page.write({kMarginMm + x, y}, 40, word, kCaps);
  y += 4.4;
  std::size_t shown = 0;
  for (; shown < order.size() && y < kBottom - 8; ++shown) {
    page.line({kMarginMm, y - 0.5}, {kMarginMm + kWidth, y - 0.5}, kRule, kHairlineMm);
    y += draw_shot(page, y, order[shown]);
  }
  if (shown < order.size()) {
    const auto hidden = std::count_if(order.begin() + static_cast<std::ptrdiff_t>(shown), order.end(), [](const SessionShot& s) { return s.verdict == "retake"; });
    page.write({kMarginMm, y}, kWidth, fmt::format("and {} more, {} of them to be taken again", order.size() - shown, hidden), kSmall);
  }
}

}  // namespace

std::string session_pdf(const Session& session, const std::string& made) {
  Imprint imprint;
  imprint.title = "Session at the copy stand";
  imprint.made = made;
  imprint.footer = "papillote check · measured on the capture card; what is not met is reported, not judged";
  return pdf(imprint, [&](Book& book) { draw(book, session, made); });
}

}  // namespace papillote::bench
