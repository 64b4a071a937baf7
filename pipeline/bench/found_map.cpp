#include "pipeline/bench/found_map.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr int kPicturePx = 2400;
constexpr double kDisc = 1.1;  // radius
constexpr Ink kOutline = ink_of(0x1d7a46);
constexpr Ink kFinding = ink_of(0xb3206b);

// Kinds are told apart by letter as well as by colour.
struct KindLook {
  LineKind kind;
  const char* letter;
  const char* words;
  Ink ink;
};
constexpr std::array<KindLook, 5> kKinds{{{LineKind::handwritten, "h", "handwritten", ink_of(0x1f4fd6)},
                                          {LineKind::typed, "t", "typed", ink_of(0xb65c00)},
                                          {LineKind::printed, "p", "printed", ink_of(0xb01e1e)},
                                          {LineKind::stamped, "s", "stamped", ink_of(0x6a2fa0)},
                                          {LineKind::newsprint, "n", "newsprint", ink_of(0x6b6a63)}}};

const KindLook& look_of(LineKind kind) {
  return *std::find_if(kKinds.begin(), kKinds.end(), [&](const KindLook& look) { return look.kind == kind; });
}

class Sheet {
 public:
  Sheet(Page& page, const Area& shown, double scale) : page_(page), shown_(shown), scale_(scale) {}

  void draw(const IndexRecord& envelope) {
    page_.polygon(on_paper(envelope.outline.polygon_px), kWhite, 0.7);
    page_.polygon(on_paper(envelope.outline.polygon_px), kOutline, 0.35);
    int order = 0;
    for (const Reading& reading : envelope.annotation.lines) {
      const KindLook& look = look_of(reading.line.kind);
      page_.polygon(on_paper(reading.line.polygon_px), look.ink, 0.2);
      if (reading.line.kind == LineKind::newsprint) continue;
      // Before the start of the text, its place in the reading order.
      const Quad& strip = reading.line.quad_px;
      const double length_px = std::hypot(strip[1].x - strip[0].x, strip[1].y - strip[0].y);
      const double back = length_px > 0 ? kDisc / scale_ / length_px : 0;
      const Point begin{(strip[0].x + strip[3].x) / 2, (strip[0].y + strip[3].y) / 2};
      const Point start = on_paper(Point{begin.x - back * (strip[1].x - strip[0].x), begin.y - back * (strip[1].y - strip[0].y)});
      page_.disc(start, kDisc, look.ink);
      page_.write({start.x - 2, start.y - 1.15}, 4, fmt::format("{}{}", look.letter, ++order),
                  {4.2, kWhite, Face::sans, true, Align::centre, 1});
    }
    for (const Finding& finding : envelope.condition.findings) {
      if (!finding.sure()) continue;
      if (finding.polygon_px.size() < 3) continue;
      const Polygon region = on_paper(finding.polygon_px);
      page_.polygon(region, kFinding, 0.3);
      const auto top = std::min_element(region.begin(), region.end(), [](const Point& a, const Point& b) { return a.y < b.y; });
      page_.write({top->x - 12, top->y - 2.2}, 24, fmt::format("{} {}", finding.kind, finding.severity),
                  {4.6, kFinding, Face::sans, true, Align::centre, 1});
    }
    const Point at = on_paper(centroid_of(envelope.outline.polygon_px));
    page_.write({at.x - 6, at.y - 1.6}, 12, std::to_string(envelope.outline.number + 1),
                {7, kOutline, Face::sans, true, Align::centre, 1});
  }

 private:
  [[nodiscard]] Point on_paper(const Point& px) const { return {shown_.x + px.x * scale_, shown_.y + px.y * scale_}; }
  [[nodiscard]] Polygon on_paper(const Polygon& px) const {
    Polygon paper;
    paper.reserve(px.size());
    for (const Point& p : px) paper.push_back(on_paper(p));
    return paper;
  }

  Page& page_;
  Area shown_;
  double scale_;
};

}  // namespace

FoundMap found_map(const PhotoIndex& index, const PhotoSource& pixels) {
  FoundMap map{index, {}};
  if (const auto photo = pixels(index.photo)) map.picture = picture_of(photo->bgr, kPicturePx);
  return map;
}

std::string found_maps_pdf(const std::vector<FoundMap>& maps, const std::string& made) {
  return pdf({"What was found", made, "papillote · what was found · " + made.substr(0, 10), true}, [&](Book& book) {
    for (const FoundMap& map : maps) {
      Page& page = book.turn();
      const double width = page.width() - 2 * kMarginMm, most_height = page.height() - 2 * kMarginMm - 12;
      const Photo& photo = map.index.photo;
      page.write({kMarginMm, kMarginMm - 5}, width, fmt::format("{} · {} envelopes", photo.path, map.index.envelopes.size()), kStrong);
      if (photo.width_px > 0 && photo.height_px > 0) {
        const double scale = std::min(width / photo.width_px, most_height / photo.height_px);
        const Area shown{kMarginMm, kMarginMm + 1, photo.width_px * scale, photo.height_px * scale};
        page.fill(shown, kPaperTint);
        page.picture(shown, map.picture);
        Sheet sheet(page, shown, scale);
        for (const IndexRecord& envelope : map.index.envelopes) sheet.draw(envelope);
      }
      double x = kMarginMm;
      const double y = page.height() - kMarginMm - 4;
      for (const KindLook& look : kKinds) {
        const std::string words = fmt::format("{} {}", look.letter, look.words);
        page.write({x, y}, 40, words, lines(with(kSmall, look.ink), 1));
        x += page.width_of(words, kSmall) + 6;
      }
      page.write({x, y}, 90, "disc = start of a line, in reading order", lines(kSmall, 1));
      page.write({kMarginMm + width - 60, y}, 60, "finding and severity", aligned(lines(with(kSmall, kFinding), 1), Align::right));
    }
    if (maps.empty()) book.turn().write({kMarginMm, kMarginMm}, 180, "No photograph answers this.", kBody);
  });
}

}  // namespace papillote::bench
