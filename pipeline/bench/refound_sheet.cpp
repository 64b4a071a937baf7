#include "pipeline/bench/refound_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "pipeline/bench/flow.h"
#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr int kPicturePx = 900;
constexpr double kGap = 8, kPictureMm = 47;

void draw_side(Page& page, Point at, double width, std::string_view heading, const RefoundSide& side) {
  double y = at.y;
  page.write({at.x, y}, width, heading, kCaps);
  y += 3.6;
  y += page.write({at.x, y}, width,
                  side.catalogue_number.empty() ? side.id : fmt::format("{}  {}", side.catalogue_number, side.id),
                  lines(kStrong, 1));
  y += page.write({at.x, y}, width, side.where, lines(kSmall, 2)) + 1;
  const Area frame{at.x, y, width, kPictureMm};
  page.fill(frame, kPaperTint);
  if (!side.picture.jpeg.empty()) {
    const double scale = std::min(width / side.picture.width_px, kPictureMm / side.picture.height_px);
    const double w = side.picture.width_px * scale, h = side.picture.height_px * scale;
    const Area shown = page.picture({at.x + (width - w) / 2, y + (kPictureMm - h) / 2, w, h}, side.picture);
    Polygon outline;
    for (const Point& p : side.outline_px) outline.push_back({shown.x + p.x * scale, shown.y + p.y * scale});
    page.polygon(outline, kWhite, 0.5);
    page.polygon(outline, kCaution, 0.25);
  } else {
    page.write({at.x + 2, y + 2}, width - 4, "The photograph is not at hand.", kSmall);
  }
  std::string text = side.text;
  std::replace(text.begin(), text.end(), '\n', '/');
  page.write({at.x, y + kPictureMm + 1.2}, width, text, lines(kVerbatim, 2));
}

}  // namespace

RefoundSide refound_side(const Photo& photo, const IndexRecord& record, std::string where, const PhotoSource& pixels) {
  RefoundSide side{record.id, record.catalogue_number, std::move(where), record.annotation.text, {}, {}};
  const Crop& crop = record.outline.crop;
  if (crop.width_px <= 0 || crop.height_px <= 0) return side;
  const auto image = pixels(photo);
  if (!image) return side;
  side.picture = picture_of(image::rectify(*image, crop), kPicturePx);
  const double scale = side.picture.width_px / double(crop.width_px);
  side.outline_px =
      image::carried(record.outline.polygon_px, cv::Matx33d::diag({scale, scale, 1.0}) * image::crop_from_photo(crop));
  return side;
}

std::string refound_pdf(const std::vector<RefoundPair>& pairs, const std::string& made) {
  return pdf({"Photographed before", made, "papillote · photographed before · " + made.substr(0, 10)}, [&](Book& book) {
    Flow flow(book, [](Page& page) {
      page.write({kMarginMm, kMarginMm - 4}, 120, "Photographed before?", kSmall);
      return kMarginMm + 2;
    });
    const double width = book.page().width() - 2 * kMarginMm, half = (width - kGap) / 2;
    flow.y += book.page().write({kMarginMm, flow.y}, width, "Photographed before?", kTitle) + 1;
    flow.y += book.page().write(
                  {kMarginMm, flow.y}, width,
                  pairs.empty() ? "No envelope seems to have been photographed before."
                                : "Each pair seems to be one envelope. Nothing is joined until it is confirmed by a person.",
                  kBody) +
              4;
    for (const RefoundPair& pair : pairs) {
      Page& page = flow.room_for(77);
      page.line({kMarginMm, flow.y}, {kMarginMm + width, flow.y}, kRule, kHairlineMm);
      const double y = flow.y + 2;
      std::string reasons;
      for (const std::string& reason : pair.reasons) reasons += (reasons.empty() ? "" : "; ") + reason;
      page.write({kMarginMm, y}, 16, fmt::format("{:.0f} %", std::floor(100 * pair.confidence)), lines(kHeading, 1));
      page.write({kMarginMm + 17, y + 0.8}, width - 60, reasons, lines(kSmall, 2));
      tick_box(page, {kMarginMm + width - 40, y + 0.6}, "the same");
      tick_box(page, {kMarginMm + width - 18, y + 0.6}, "another");
      draw_side(page, {kMarginMm, y + 7.5}, half, "EARLIER", pair.earlier);
      draw_side(page, {kMarginMm + half + kGap, y + 7.5}, half, "NEWER", pair.newer);
      flow.y += 79;
    }
  });
}

}  // namespace papillote::bench
