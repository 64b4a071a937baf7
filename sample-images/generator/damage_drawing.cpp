#include "damage_drawing.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "noise.h"
#include "wings.h"

namespace papillote::samples {
namespace {

cv::Mat ragged(const Face& face, const Polygon& shape, double ragged_mm, double soft_mm, Random& random) {
  const double ppm = face.plane.px_per_mm;
  MaskPainter painter{face.plane};
  painter.fill(shape);
  cv::Mat field = painter.coverage();
  soften(field, ragged_mm * ppm);
  const cv::Mat n = noise(face.plane.size, ragged_mm * 1.2 * ppm, random);
  const cv::Mat fine = noise(face.plane.size, std::max(2.0, 0.35 * ppm), random);
  const auto steep = static_cast<float>(std::max(1.0, ragged_mm / std::max(0.05, soft_mm)));
  for (int y = 0; y < field.rows; ++y) {
    float* f = field.ptr<float>(y);
    const float* a = n.ptr<float>(y);
    const float* b = fine.ptr<float>(y);
    for (int x = 0; x < field.cols; ++x) {
      if (f[x] <= 0.001F) continue;
      f[x] = std::clamp((f[x] - 0.5F + 0.13F * a[x] + 0.03F * b[x]) * steep + 0.5F, 0.0F, 1.0F);
    }
  }
  return field;
}

void water_stain(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  cv::Mat wet = ragged(face, damage.parts_mm[0], 1.6, 0.25, random);
  cv::Mat rim = wet.clone();
  soften(rim, random.between(0.35, 0.8) * ppm);
  cv::Mat wide = wet.clone();
  soften(wide, random.between(2.0, 3.5) * ppm);
  const cv::Mat uneven = noise(face.plane.size, 6 * ppm, random);
  const auto strength = static_cast<float>(0.22 + 0.14 * damage.severity);
  cv::Mat line(wet.size(), CV_32F);
  for (int y = 0; y < wet.rows; ++y)
    for (int x = 0; x < wet.cols; ++x) {
      const float w = wet.at<float>(y, x);
      const float edge = 4.0F * rim.at<float>(y, x) * (1.0F - rim.at<float>(y, x));
      const float inner = w * (1.0F - wide.at<float>(y, x));
      line.at<float>(y, x) = std::clamp((0.85F * edge * (0.35F + 0.65F * w) + 0.45F * inner + 0.16F * w) * strength * (1.0F + 0.35F * uneven.at<float>(y, x)), 0.0F, 0.95F);
    }
  stain(face.colour, line, reflectance(random.pick({0x9A6E3AU, 0x8A6238U, 0xA67E4AU})));
  // Damp cockles the paper.
  face.height += wet.mul(noise(face.plane.size, 3.0 * ppm, random)) * (0.05 + 0.03 * damage.severity);
}

void mould(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  MaskPainter cores{face.plane};
  for (const Polygon& spot : damage.parts_mm) cores.fill(spot, random.between(0.5, 1.0));
  cv::Mat core = cores.coverage();
  cv::Mat halo = core.clone();
  soften(core, 0.14 * ppm);
  soften(halo, 0.55 * ppm);
  const cv::Mat fuzz = noise(face.plane.size, 1.0, random) * 0.35 + noise(face.plane.size, std::max(1.5, 0.3 * ppm), random) * 0.45;
  cv::Mat field = core * 0.85 + halo * 0.5;
  cv::multiply(field, fuzz + 0.85, field);
  field = cv::max(cv::min(field, 0.97), 0);
  const unsigned colour = random.pick({0x3E4A3AU, 0x2E2E2CU, 0x5A6652U, 0x50545AU, 0x46503CU});
  stain(face.colour, field, reflectance(colour));
  if (random.chance(0.45)) {  // pale down over the older growth
    cv::Mat down = halo.mul(noise(face.plane.size, 1.0, random) * 0.5 + 0.5) * 0.5;
    tint(face.colour, cv::max(cv::min(down, 0.8), 0), reflectance(0xC8CCBEU));
  }
  face.height += core * 0.05;
  face.opacity = cv::max(face.opacity, field);
}

void foxing(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  MaskPainter spots{face.plane};
  for (const Polygon& spot : damage.parts_mm) spots.fill(spot, random.between(0.3, 0.9));
  cv::Mat field = spots.coverage();
  cv::Mat halo = field.clone();
  soften(field, 0.22 * ppm);
  soften(halo, 0.6 * ppm);
  field = field * (0.5 + 0.1 * damage.severity) + halo * 0.5;
  stain(face.colour, cv::min(field, 0.9), reflectance(random.pick({0x9A5A2AU, 0xA8682EU, 0x8A4E26U})));
}

void frass(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  MaskPainter dust{face.plane};
  dust.fill(grown(damage.region_mm, -0.8), 0.55);
  cv::Mat powder = dust.coverage();
  soften(powder, 1.0 * ppm);
  cv::multiply(powder, cv::max(noise(face.plane.size, 1.0, random) * 0.5 + 0.1, 0), powder);
  const unsigned tone = random.pick({0x5A3E26U, 0x6E5234U, 0x3E2C1EU, 0x8A6A44U});
  stain(face.colour, cv::min(powder * 0.6, 0.6), reflectance(tone));
  // Each pellet throws a small shadow and catches some light.
  MaskPainter below{face.plane};
  for (const Polygon& pellet : damage.parts_mm) below.fill(moved(pellet, {0.12, 0.14}), 0.75);
  cv::Mat shadow = below.coverage();
  soften(shadow, 0.12 * ppm);
  stain(face.colour, shadow, cv::Vec3f{0.25F, 0.25F, 0.25F});
  ColourPainter pellets{face.plane};
  for (const Polygon& pellet : damage.parts_mm) {
    pellets.fill(pellet, tone, 1.0);
    const Bounds b = bounds(pellet);
    pellets.fill(circle(b.middle() - Point{0.06, 0.07}, 0.25 * std::min(b.width(), b.height()), 7), 0xC8A880, 0.35);
  }
  pellets.lay_over(face.colour, &face.alpha);
  MaskPainter solid{face.plane};
  for (const Polygon& pellet : damage.parts_mm) solid.fill(pellet);
  face.opacity = cv::max(face.opacity, solid.coverage());
}

void rust(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  const Polygon& line = damage.parts_mm[0];
  MaskPainter core{face.plane};
  core.stroke(line, 0.5 + damage.size_mm * 0.4, 0.9);
  cv::Mat near = core.coverage();
  cv::Mat far = near.clone();
  soften(near, 0.25 * ppm);
  soften(far, std::max(0.3, damage.size_mm * 0.6) * ppm);
  const cv::Mat patchy = noise(face.plane.size, 1.6 * ppm, random) * 0.35 + 0.85;
  cv::Mat field = (near * 0.75 + far * 0.9).mul(cv::max(patchy, 0.1));
  stain(face.colour, cv::min(field, 0.96), reflectance(random.pick({0x7A3A14U, 0x8C4A1CU, 0x6A3218U})));
  if (random.chance(0.6)) {
    ColourPainter wire{face.plane};
    trace(wire.cairo(), moved(line, {0.15, 0.18}), false);
    set_rgb(wire.cairo(), 0x1A120C, 0.6);
    cairo_set_line_width(wire.cairo(), 0.7);
    cairo_stroke(wire.cairo());
    trace(wire.cairo(), line, false);
    set_rgb(wire.cairo(), random.pick({0x5A4436U, 0x6A6460U, 0x4A3A30U}), 1.0);
    cairo_set_line_width(wire.cairo(), line.size() > 2 ? 0.9 : 0.55);
    cairo_stroke(wire.cairo());
    trace(wire.cairo(), moved(line, {-0.08, -0.08}), false);
    set_rgb(wire.cairo(), 0xC8B8A8, 0.5);
    cairo_set_line_width(wire.cairo(), 0.16);
    cairo_stroke(wire.cairo());
    if (line.size() == 2) wire.fill(circle(line[0], 0.75, 14), 0x7A6A5A);
    wire.lay_over(face.colour, nullptr);
  }
}

void tape(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  MaskPainter strip{face.plane};
  strip.fill(damage.region_mm);
  cv::Mat mask = strip.coverage();
  const cv::Mat patchy = noise(face.plane.size, 5 * ppm, random) * 0.12 + 0.8;
  const double yellow = 0.35 + 0.14 * damage.severity;
  stain(face.colour, mask.mul(patchy) * std::min(0.95, yellow), reflectance(random.pick({0xC89A4AU, 0xB88438U, 0xD0AC66U})));
  MaskPainter edge{face.plane};
  edge.stroke(damage.region_mm, 0.18, 0.6, true);
  stain(face.colour, edge.coverage() * 0.6, reflectance(0x7A5A30));
  // A film reflects some of the lamp in broad streaks.
  cv::Mat gloss = streaky_noise(face.plane.size, 14 * ppm, 2.0 * ppm, random);
  cv::Mat shine = cv::max(gloss - 0.5, 0).mul(mask) * 0.09;
  tint(face.colour, cv::min(shine, 0.4), cv::Vec3f{0.95F, 0.97F, 1.0F});
  soften(mask, 0.08 * ppm);
  face.height += mask * 0.06;
}

void grease(Face& face, const Damage& damage, Random& random) {
  cv::Mat patch = ragged(face, damage.parts_mm[0], 1.4, 0.9, random);
  const double strength = 0.4 + 0.13 * damage.severity;
  stain(face.colour, patch * strength, reflectance(random.pick({0xBFA572U, 0xB39C70U, 0xC7B184U})));
}

void crushed(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  const Bounds b = bounds(damage.region_mm);
  MaskPainter ridges{face.plane};
  MaskPainter valleys{face.plane};
  MaskPainter worn{face.plane};
  const int count = 10 + 9 * damage.severity;
  for (int i = 0; i < count; ++i) {
    const Point from{random.between(b.left, b.right), random.between(b.top, b.bottom)};
    const Point along = turned(Point{random.between(0.15, 0.5) * std::max(b.width(), b.height()), 0}, random.between(0, 360));
    Polygon crease{from};
    for (int k = 1; k <= 5; ++k) crease.push_back(from + along * (k / 5.0) + Point{random.normal(0, 0.9), random.normal(0, 0.9)});
    (random.chance(0.5) ? ridges : valleys).stroke(crease, random.between(0.3, 0.7), random.between(0.4, 1.0));
    worn.stroke(crease, 0.12, random.between(0.15, 0.5));
  }
  MaskPainter area{face.plane};
  area.fill(damage.region_mm);
  cv::Mat where = area.coverage();
  soften(where, 1.5 * ppm);
  cv::Mat up = ridges.coverage();
  cv::Mat down = valleys.coverage();
  soften(up, 0.35 * ppm);
  soften(down, 0.35 * ppm);
  const double strength = 0.22 + 0.1 * damage.severity;
  face.height += (up - down).mul(where) * strength;
  face.height += noise(face.plane.size, 4 * ppm, random).mul(where) * (0.1 + 0.06 * damage.severity);
  tint(face.colour, worn.coverage().mul(where) * 0.5, cv::Vec3f{0.72F, 0.76F, 0.78F});
}

void webbing(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  const Bounds b = bounds(damage.region_mm);
  MaskPainter silk{face.plane};
  const int count = 25 + 35 * damage.severity;
  const auto within = [&] {
    for (int i = 0; i < 50; ++i) {
      const Point p{random.between(b.left, b.right), random.between(b.top, b.bottom)};
      if (contains(damage.region_mm, p)) return p;
    }
    return b.middle();
  };
  for (int i = 0; i < count; ++i) {
    const Point from = within();
    const Point to = within();
    const Point bend = (from + to) * 0.5 + Point{random.normal(0, 1.5), random.normal(0, 1.5)};
    cairo_move_to(silk.cairo(), from.x, from.y);
    cairo_curve_to(silk.cairo(), bend.x, bend.y, bend.x, bend.y, to.x, to.y);
    cairo_set_source_rgba(silk.cairo(), 0, 0, 0, random.between(0.25, 0.8));
    cairo_set_line_width(silk.cairo(), random.between(0.06, 0.16));
    cairo_stroke(silk.cairo());
  }
  MaskPainter patch{face.plane};
  patch.fill(damage.region_mm, 0.5);
  cv::Mat veil = patch.coverage();
  soften(veil, 1.5 * ppm);
  veil = veil.mul(cv::max(noise(face.plane.size, 1.2 * ppm, random) * 0.3 + 0.3, 0)) * 0.7;
  cv::Mat threads = silk.coverage();
  cv::Mat under = threads.clone();
  soften(under, 0.2 * ppm);
  stain(face.colour, cv::min(under * 0.5 + veil * 0.3, 0.6), reflectance(0x6A6258));
  tint(face.colour, cv::min(threads * 0.75 + veil * 0.7, 0.9), reflectance(0xE4E2D8));
  ColourPainter skins{face.plane};
  for (int i = 0; i < damage.severity; ++i) {
    const Point at = within();
    const double deg = random.between(0, 180);
    Polygon skin = circle({0, 0}, 1.0, 12);
    for (Point& p : skin) p.x *= 2.2;
    skins.fill(moved(turned(skin, deg), at), 0x7A5230, 0.9);
    for (int h = 0; h < 26; ++h) {
      const Point root = at + turned(Point{random.between(-2.0, 2.0), random.between(-0.8, 0.8)}, deg);
      const Point hair = root + turned(Point{random.between(0.6, 1.4), 0}, random.between(0, 360));
      trace(skins.cairo(), {root, hair}, false);
      set_rgb(skins.cairo(), 0x3A2818, 0.7);
      cairo_set_line_width(skins.cairo(), 0.08);
      cairo_stroke(skins.cairo());
    }
  }
  skins.lay_over(face.colour, nullptr);
  face.opacity = cv::max(face.opacity, threads * 0.8);
}

void open_flap(Face& face, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  const Polygon& flap = damage.parts_mm[0];
  MaskPainter area{face.plane};
  area.fill(flap);
  cv::Mat inside = area.coverage();
  tint(face.colour, inside * random.between(0.1, 0.35), reflectance(0xEFEAD8));
  MaskPainter fold{face.plane};
  fold.stroke({flap.front(), flap.back()}, 0.25, 1.0);
  cv::Mat crease = fold.coverage();
  cv::Mat shadow = crease.clone();
  soften(crease, 0.1 * ppm);
  soften(shadow, 1.2 * ppm);
  stain(face.colour, cv::min(crease * 0.55 + shadow * 0.9, 0.8), cv::Vec3f{0.45F, 0.5F, 0.52F});
  // The flap stands up from the table.
  MaskPainter rim{face.plane};
  rim.stroke({flap[1], flap[2]}, 1.2, 1.0);
  cv::Mat lift = rim.coverage();
  soften(lift, damage.size_mm * 0.3 * ppm);
  face.height += lift * (1.5 + 0.8 * damage.severity);
}

// The torn rim shows the white inside of the paper.
void torn_rim(Face& face, const cv::Mat& cut, Random& random) {
  const double ppm = face.plane.px_per_mm;
  cv::Mat rim = cut.clone();
  soften(rim, 0.28 * ppm);
  rim = rim.mul(cv::max(noise(face.plane.size, std::max(1.5, 0.3 * ppm), random) * 0.35 + 0.75, 0)) * 1.1;
  tint(face.colour, cv::min(rim, 0.85), reflectance(random.pick({0xF0ECE0U, 0xE8E0CCU})));
}

}  // namespace

void draw_on_paper(Face& face, const Damage& damage) {
  Random random{damage.seed};
  switch (damage.kind) {
    case DamageKind::water_stain: water_stain(face, damage, random); break;
    case DamageKind::mould: mould(face, damage, random); break;
    case DamageKind::foxing: foxing(face, damage, random); break;
    case DamageKind::rust: rust(face, damage, random); break;
    case DamageKind::tape: tape(face, damage, random); break;
    case DamageKind::grease: grease(face, damage, random); break;
    case DamageKind::crushed: crushed(face, damage, random); break;
    case DamageKind::webbing: webbing(face, damage, random); break;
    case DamageKind::open_flap: open_flap(face, damage, random); break;
    default: break;
  }
}

void draw_beyond_paper(Face& face, const EnvelopePlan& plan, const Damage& damage) {
  Random random{damage.seed};
  const double ppm = face.plane.px_per_mm;
  switch (damage.kind) {
    case DamageKind::tear: {
      MaskPainter wedge{face.plane};
      wedge.fill(damage.parts_mm[0]);
      const cv::Mat cut = wedge.coverage();
      torn_rim(face, cut, random);
      face.alpha = face.alpha.mul(1.0 - cut);
      break;
    }
    case DamageKind::missing_corner: {
      MaskPainter gone{face.plane};
      gone.fill(damage.parts_mm[0]);
      torn_rim(face, gone.coverage(), random);
      break;
    }
    case DamageKind::hole: {
      MaskPainter hole{face.plane};
      hole.fill(damage.parts_mm[0]);
      cv::Mat cut = hole.coverage();
      cv::Mat rim = cut.clone();
      soften(rim, 0.2 * ppm);
      stain(face.colour, cv::min(rim * 0.8, 0.7), reflectance(0x6A543A));
      if (random.chance(0.5)) {  // the layer beneath is whole: one looks into the dark inside
        cv::Mat shadow = hole.coverage();
        cv::Mat offset;
        const cv::Matx23d shift{1, 0, 0.25 * ppm, 0, 1, 0.25 * ppm};
        cv::warpAffine(shadow, offset, cv::Mat(shift), shadow.size());
        tint(face.colour, cut, plan.sheet.colour * static_cast<float>(random.between(0.12, 0.35)));
        tint(face.colour, cut.mul(offset) * 0.45, plan.sheet.colour * 0.55F);
        face.opacity = cv::max(face.opacity, cut);
      } else {
        face.alpha = face.alpha.mul(1.0 - cut);
      }
      break;
    }
    case DamageKind::frass: frass(face, damage, random); break;
    case DamageKind::protruding: {
      ColourPainter parts{face.plane};
      for (const Polygon& part : damage.parts_mm) {
        if (damage.size_mm > 0) draw_wing_tip(parts, part[0], part[1], damage.size_mm, random.branch());
        else draw_antenna(parts, part[0], part[1], random.branch());
      }
      // It comes out from under the paper.
      cv::Mat colour;
      cv::Mat cover;
      parts.split(colour, cover);
      MaskPainter paper{face.plane};
      paper.fill(plan.outline_mm);
      const cv::Mat over = paper.coverage();
      cv::Mat edge_shadow = over.clone();
      soften(edge_shadow, 0.6 * ppm);
      for (int y = 0; y < cover.rows; ++y)
        for (int x = 0; x < cover.cols; ++x) {
          const float a = cover.at<float>(y, x) * (1.0F - over.at<float>(y, x));
          if (a <= 0) continue;
          const float old = face.alpha.at<float>(y, x);
          const cv::Vec3f own = colour.at<cv::Vec3f>(y, x) * ((1.0F - 0.7F * edge_shadow.at<float>(y, x)) / std::max(0.01F, cover.at<float>(y, x)));
          const float total = std::min(1.0F, old + a);
          face.colour.at<cv::Vec3f>(y, x) = (face.colour.at<cv::Vec3f>(y, x) * old + own * a) * (1.0F / std::max(0.01F, old + a));
          face.alpha.at<float>(y, x) = total;
          face.opacity.at<float>(y, x) = std::max(face.opacity.at<float>(y, x), a);
        }
      break;
    }
    case DamageKind::fragments: {
      ColourPainter pieces{face.plane};
      for (const Polygon& piece : damage.parts_mm) {
        if (random.chance(0.75)) {
          draw_wing_piece(pieces, piece, random.branch());
        } else {
          const Bounds b = bounds(piece);
          draw_antenna(pieces, {b.left, b.top}, {b.right + 2, b.bottom}, random.branch());
        }
      }
      cv::Mat colour;
      cv::Mat cover;
      pieces.split(colour, cover);
      pieces.lay_over(face.colour, &face.alpha);
      face.opacity = cv::max(face.opacity, cover);
      break;
    }
    default: break;
  }
}

}  // namespace papillote::samples
