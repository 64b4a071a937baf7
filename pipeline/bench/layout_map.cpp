#include "pipeline/bench/layout_map.h"

#include <fmt/format.h>

#include <algorithm>

#include "pipeline/bench/flow.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

constexpr double kWidth = 210 - 2 * kMarginMm;
constexpr double kMostPictureHeight = 150;
constexpr Ink kChosen = ink_of(0xe3b341);
constexpr int kPicturePx = 1600;  // of 182 mm: 220 to the inch

void draw_outlines(Page& page, const Area& shown, const SheetMap& map) {
  const double scale = shown.width / map.width_px;
  const Type figure{7, kWhite, Face::sans, true, Align::centre, 1};
  for (const MapEntry& entry : map.entries) {
    if (entry.outline_px.size() < 3) continue;
    Polygon outline;
    for (const Point& p : entry.outline_px) outline.push_back({shown.x + p.x * scale, shown.y + p.y * scale});
    const LevelLook look = look_of_level(entry.level);
    if (entry.chosen) page.shade(outline, kChosen, 0.45);
    page.polygon(outline, kWhite, entry.chosen ? 1.6 : 0.8);  // a light edge keeps the line visible on dark paper
    page.polygon(outline, look.ink, entry.chosen ? 1.2 : 0.4);
    const Point at = centroid_of(outline);  // of the area, so that the number lies on the paper of a triangle
    const std::string words = entry.position.figure();
    const double width = page.width_of(words, figure) + 1.6;
    constexpr double kHeight = 3.5;
    page.fill({at.x - width / 2 - 0.3, at.y - kHeight / 2 - 0.3, width + 0.6, kHeight + 0.6}, kWhite);
    page.fill({at.x - width / 2, at.y - kHeight / 2, width, kHeight}, look.ink);
    page.write({at.x - width / 2, at.y - kHeight / 2 + 0.2}, width, words, figure);
  }
}

std::string first_line(const std::string& text) { return text.substr(0, text.find('\n')); }

std::string heading_of(const SheetMap& map) {
  return fmt::format("{} / {}", map.tin.empty() ? "Tin not known" : "Tin " + map.tin, sheet_words(map.sheet, map.side));
}

// Two columns read down, then across; as many as the page takes.
void draw_list(Flow& flow, const std::vector<MapEntry>& entries) {
  constexpr double kLine = 4.5;
  constexpr double kColumn = kWidth / 2;
  std::size_t next = 0;
  while (next < entries.size()) {
    Page& page = flow.room_for(3 * kLine);
    const double room = page.height() - 15 - flow.y;
    const std::size_t rest = entries.size() - next;
    const std::size_t down = std::min(static_cast<std::size_t>(room / kLine), (rest + 1) / 2);
    const std::size_t shown = std::min(rest, 2 * down);
    for (std::size_t k = 0; k < shown; ++k) {
      const MapEntry& entry = entries[next + k];
      const double x = kMarginMm + (k < down ? 0 : kColumn);
      const double y = flow.y + static_cast<double>(k % down) * kLine;
      const LevelLook look = look_of_level(entry.level);
      if (entry.chosen) page.fill({x - 1, y - 0.5, kColumn - 2, kLine}, kCautionTint);
      page.write({x, y}, 8, entry.position.figure(), lines(kStrong, 1));
      page.write({x + 8.5, y}, 5, look.mark, lines(with(kBody, look.ink), 1));
      const Type name_type = page.fitted(entry.name, 26, {6.4, kText, Face::mono, false, Align::left, 1}, 4.6);
      page.write({x + 13, y + 0.4}, 27, entry.name, name_type);
      page.write({x + 41, y}, kColumn - 45, entry.text.empty() ? "no text read" : first_line(entry.text),
                 lines(entry.text.empty() ? kSmall : kBody, 1));
    }
    next += shown;
    flow.y += static_cast<double>(down) * kLine;
    if (next < entries.size()) flow.y = page.height();  // the next column starts a page
  }
}

void draw_key(Flow& flow, Page& page, bool any_chosen) {
  double x = kMarginMm;
  for (const char* level : {"isolate", "stabilise", "valuable", "routine"}) {
    const LevelLook look = look_of_level(level);
    const std::string words = fmt::format("{} {}", look.mark, look.words);
    page.write({x, flow.y}, 40, words, lines(with(kSmall, look.ink), 1));
    x += page.width_of(words, kSmall) + 6;
  }
  page.write({x, flow.y}, kMarginMm + kWidth - x,
             any_chosen ? "2.3 = row 2, no. 3 · shaded = to be taken" : "2.3 = row 2, no. 3",
             aligned(lines(kSmall, 1), Align::right));
  flow.y += 6;
}

}  // namespace

SheetMap sheet_map(const PhotoIndex& index, const std::set<std::string>& chosen, const PhotoSource& pixels) {
  SheetMap map;
  if (const auto& sheet = index.calibration.sheet) {
    map.tin = sheet->tin;
    map.sheet = sheet->sheet;
    map.side = sheet->side;
  }
  map.photo = index.photo.path;
  map.width_px = index.photo.width_px;
  map.height_px = index.photo.height_px;
  std::vector<Polygon> outlines;
  for (const IndexRecord& envelope : index.envelopes) outlines.push_back(envelope.outline.polygon_px);
  const std::vector<Position> positions = positions_of(outlines);
  for (std::size_t k = 0; k < index.envelopes.size(); ++k) {
    const IndexRecord& envelope = index.envelopes[k];
    map.entries.push_back({positions[k], envelope.outline.polygon_px,
                           envelope.catalogue_number.empty() ? envelope.id : envelope.catalogue_number,
                           envelope.annotation.text, envelope.triage.level, chosen.contains(envelope.id)});
  }
  std::sort(map.entries.begin(), map.entries.end(),
            [](const MapEntry& a, const MapEntry& b) { return a.position < b.position; });
  if (const auto photo = pixels(index.photo)) map.picture = picture_of(photo->bgr, kPicturePx);
  return map;
}

std::string layout_maps_pdf(const std::vector<SheetMap>& sheets, const std::string& made) {
  return pdf({"Layout map", made, "papillote · layout map · " + made.substr(0, 10), false}, [&](Book& book) {
    for (const SheetMap& map : sheets) {
      Flow flow(book, [&](Page& page) {
        page.write({kMarginMm, kMarginMm - 4}, kWidth, heading_of(map) + ", continued", lines(kSmall, 1));
        return kMarginMm + 2;
      });
      Page& page = book.page();
      flow.y += page.write({kMarginMm, flow.y}, kWidth, heading_of(map), kTitle) + 0.6;
      flow.y += page.write({kMarginMm, flow.y}, kWidth, fmt::format("{} envelopes · {}", map.entries.size(), map.photo),
                           lines(with(kBody, kQuiet), 1)) +
                3;
      if (map.width_px > 0 && map.height_px > 0) {
        const double scale = std::min(kWidth / map.width_px, kMostPictureHeight / map.height_px);
        const Area shown{kMarginMm, flow.y, map.width_px * scale, map.height_px * scale};
        page.fill(shown, kPaperTint);
        page.picture(shown, map.picture);
        page.frame(shown, kRule, kHairlineMm);
        draw_outlines(page, shown, map);
        flow.y = shown.bottom() + 2.5;
      }
      draw_key(flow, page,
               std::any_of(map.entries.begin(), map.entries.end(), [](const MapEntry& entry) { return entry.chosen; }));
      draw_list(flow, map.entries);
    }
    if (sheets.empty()) book.turn().write({kMarginMm, kMarginMm}, kWidth, "No sheet answers this.", kBody);
  });
}

}  // namespace papillote::bench
