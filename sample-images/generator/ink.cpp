#include "ink.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "noise.h"

namespace papillote::samples {
namespace {

struct Behaviour {
  double swell_mm;    // strokes thicken or thin by about this much along the line
  double bleed_mm;    // softness of the edge in the paper
  double uneven;      // density along the stroke
  double grain;       // how much the paper's grain shows through
  double waver_mm;    // letter shapes waver
};

Behaviour behaviour(InkKind kind) {
  switch (kind) {
    case InkKind::pencil: return {0.03, 0.05, 0.16, 0.42, 0.11};
    case InkKind::iron_gall: return {0.06, 0.06, 0.24, 0.05, 0.11};
    case InkKind::blue_black: return {0.05, 0.05, 0.14, 0.04, 0.11};
    case InkKind::violet: return {0.06, 0.09, 0.18, 0.06, 0.11};
    case InkKind::ribbon_black:
    case InkKind::ribbon_violet: return {0.03, 0.05, 0.14, 0.2, 0.015};
    case InkKind::printers_black: return {0.02, 0.03, 0.06, 0.06, 0.0};
    case InkKind::stamp_violet:
    case InkKind::stamp_red:
    case InkKind::stamp_blue: return {0.05, 0.07, 0.3, 0.22, 0.03};
  }
  return {0.03, 0.05, 0.1, 0.1, 0.0};
}

}  // namespace

void apply_ink(Face& face, const FontShelf& shelf, const std::vector<PlacedLine>& lines, std::size_t ink_index, const Ink& ink, Random& random) {
  const double ppm = face.plane.px_per_mm;
  Polygon written;
  for (const PlacedLine& line : lines)
    if (line.ink == ink_index) written.insert(written.end(), line.polygon_mm.begin(), line.polygon_mm.end());
  if (written.empty()) return;
  // Only the part of the face that is written on.
  const Bounds b = bounds(written);
  const Point from = face.plane.px({b.left - 4, b.top - 4});
  const Point to = face.plane.px({b.right + 4, b.bottom + 4});
  const cv::Rect area = cv::Rect(cvFloor(from.x), cvFloor(from.y), cvCeil(to.x - from.x), cvCeil(to.y - from.y)) & cv::Rect({0, 0}, face.plane.size);
  if (area.empty()) return;
  const Plane plane{ppm, face.plane.origin_mm + Point(area.x, area.y) / ppm, area.size()};
  MaskPainter painter{plane};
  for (const PlacedLine& line : lines) {
    if (line.ink != ink_index) continue;
    if (line.stretch != 1.0) {
      cairo_save(painter.cairo());
      cairo_translate(painter.cairo(), line.start_mm.x, line.start_mm.y);
      cairo_rotate(painter.cairo(), line.turned_deg * 3.14159265358979 / 180);
      cairo_scale(painter.cairo(), line.stretch, 1.0);
      draw(painter.cairo(), shelf, line.set, {0, 0}, 0);
      cairo_restore(painter.cairo());
    } else {
      draw(painter.cairo(), shelf, line.set, line.start_mm, line.turned_deg);
    }
  }
  const cv::Size size = area.size();
  const Behaviour how = behaviour(ink.kind);
  cv::Mat mask = painter.coverage();
  const bool by_hand = lines.back().set.lettering.kind == LineKind::handwritten || how.waver_mm > 0.05;

  if (how.waver_mm > 0.01) {
    cv::Mat map_x = noise(size, 2.2 * ppm, random) * (how.waver_mm * ppm * 0.55) + noise(size, 7.0 * ppm, random) * (how.waver_mm * ppm);
    cv::Mat map_y = noise(size, 2.2 * ppm, random) * (how.waver_mm * ppm * 0.55) + noise(size, 7.0 * ppm, random) * (how.waver_mm * ppm);
    for (int y = 0; y < size.height; ++y) {
      float* mx = map_x.ptr<float>(y);
      float* my = map_y.ptr<float>(y);
      for (int x = 0; x < size.width; ++x) {
        mx[x] += static_cast<float>(x);
        my[x] += static_cast<float>(y);
      }
    }
    cv::Mat moved;
    cv::remap(mask, moved, map_x, map_y, cv::INTER_LINEAR);
    mask = moved;
  }
  // Swelling: the softened stroke is cut at a level that varies along the line.
  cv::Mat soft = mask.clone();
  soften(soft, std::max(0.45, how.bleed_mm * ppm));
  const cv::Mat pressure = noise(size, 3.0 * ppm, random);
  const cv::Mat density = noise(size, 4.5 * ppm, random);
  const cv::Mat grain = noise(size, 1.0, random) * 0.6 + noise(size, std::max(1.5, 0.22 * ppm), random) * 0.7;
  const double nib = by_hand ? random.between(-0.04, 0.09) : random.between(-0.02, 0.03);
  const auto gain = static_cast<float>(how.swell_mm * 3.0);
  const bool stamped = ink.kind == InkKind::stamp_blue || ink.kind == InkKind::stamp_red || ink.kind == InkKind::stamp_violet;
  for (int y = 0; y < size.height; ++y) {
    float* m = mask.ptr<float>(y);
    const float* s = soft.ptr<float>(y);
    const float* p = pressure.ptr<float>(y);
    const float* d = density.ptr<float>(y);
    const float* g = grain.ptr<float>(y);
    for (int x = 0; x < size.width; ++x) {
      if (s[x] < 0.02F) {
        m[x] = 0;
        continue;
      }
      const float level = 0.5F * m[x] + 0.5F * s[x];
      float stroke = std::clamp((level + static_cast<float>(nib) + gain * 0.25F * p[x]) * 1.15F - 0.06F, 0.0F, 1.0F);
      stroke *= std::clamp(1.0F + static_cast<float>(how.uneven) * (0.7F * d[x] - 0.35F), 0.25F, 1.1F);
      stroke *= std::clamp(1.0F + static_cast<float>(how.grain) * (0.9F * g[x] - 0.3F), stamped ? 0.0F : 0.1F, 1.15F);
      m[x] = std::min(1.0F, stroke) * static_cast<float>(ink.density);
    }
  }
  // Ink on glassine is opaque: of a pixel that it covers in part, the rest stays as clear as before.
  cv::Mat colour = face.colour(area);
  cv::Mat opacity = face.opacity(area);
  for (int y = 0; y < size.height; ++y) {
    cv::Vec3f* paper = colour.ptr<cv::Vec3f>(y);
    float* o = opacity.ptr<float>(y);
    const float* m = mask.ptr<float>(y);
    for (int x = 0; x < size.width; ++x) {
      if (m[x] == 0) continue;
      const float clear = o[x] * (1 - m[x]);
      const cv::Vec3f inked = paper[x].mul(ink.colour);
      o[x] = clear + m[x];
      paper[x] = (paper[x] * clear + inked * m[x]) * (1 / o[x]);
    }
  }
}

}  // namespace papillote::samples
