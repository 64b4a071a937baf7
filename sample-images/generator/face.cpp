#include "face.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "noise.h"
#include "paper.h"
#include "wings.h"

namespace papillote::samples {
namespace {

cv::Mat covered(const Face& face, const Polygon& mm) {
  MaskPainter painter{face.plane};
  painter.fill(mm);
  return painter.coverage();
}

void cut_out(Face& face, const cv::Mat& mask) {
  cv::Mat kept = 1.0 - mask;
  cv::multiply(face.alpha, kept, face.alpha);
}

// How a hand's or machine's ink takes to the paper.
void draw_writing(Face& face, const FontShelf& shelf, const PlacedLine& line, const Ink& ink, Random& random) {
  MaskPainter painter{face.plane};
  cairo_save(painter.cairo());
  if (std::abs(line.stretch - 1.0) > 1e-6) {
    cairo_translate(painter.cairo(), line.start_mm.x, line.start_mm.y);
    cairo_rotate(painter.cairo(), line.turned_deg * CV_PI / 180);
    cairo_scale(painter.cairo(), line.stretch, 1);
    draw(painter.cairo(), shelf, line.set, {0, 0}, 0);
  } else {
    draw(painter.cairo(), shelf, line.set, line.start_mm, line.turned_deg);
  }
  cairo_restore(painter.cairo());
  cv::Mat mask = painter.coverage();
  const Bounds b = bounds(line.polygon_mm);
  const Point a = face.plane.px({b.left - 3, b.top - 3});
  const Point z = face.plane.px({b.right + 3, b.bottom + 3});
  const cv::Rect area = cv::Rect(cvFloor(a.x), cvFloor(a.y), cvCeil(z.x - a.x), cvCeil(z.y - a.y)) & cv::Rect({0, 0}, face.plane.size);
  if (area.empty()) return;
  cv::Mat own = mask(area).clone();
  cv::Mat seen = face.colour(area);
  const double ppm = face.plane.px_per_mm;
  const auto vary = [&](double grain_mm, double depth, double least) {
    cv::Mat field = noise(own.size(), std::max(1.0, grain_mm * ppm), random) * depth + 1.0;
    cv::min(cv::max(field, least), 1.15, field);
    cv::multiply(own, field, own);
  };
  switch (ink.kind) {
    case InkKind::pencil:
      vary(0.12, 0.34, 0.25);
      vary(2.5, 0.1, 0.6);
      soften(own, 0.03 * ppm);
      break;
    case InkKind::iron_gall: {
      cv::Mat halo = own.clone();
      soften(halo, 0.22 * ppm);
      halo *= 0.25 * ink.density;
      stain(seen, halo, reflectance(0x8A5A2A));
      vary(1.8, 0.13, 0.55);
      vary(0.3, 0.06, 0.6);
      break;
    }
    case InkKind::blue_black:
    case InkKind::violet:
      vary(1.5, 0.09, 0.6);
      break;
    case InkKind::ribbon_black:
    case InkKind::ribbon_violet:
      vary(0.18, 0.16, 0.4);
      break;
    case InkKind::printers_black:
      vary(0.25, 0.07, 0.6);
      break;
    case InkKind::stamp_violet:
    case InkKind::stamp_red:
    case InkKind::stamp_blue:
      vary(0.5, 0.2, 0.2);
      vary(5.0, 0.16, 0.35);
      soften(own, 0.04 * ppm);
      break;
  }
  own *= ink.density;
  cv::min(own, 1.0, own);
  stain(seen, own, ink.colour);
}

void draw_spots(Face& face, const Damage& damage, Random& random, unsigned dark, unsigned pale, double blur_mm, double depth) {
  MaskPainter painter{face.plane};
  for (const Polygon& spot : damage.parts_mm) painter.fill(spot, random.between(0.4, 1.0));
  cv::Mat mask = painter.coverage();
  cv::Mat halo = mask.clone();
  soften(mask, blur_mm * face.plane.px_per_mm);
  soften(halo, 3.5 * blur_mm * face.plane.px_per_mm);
  halo *= depth * 0.7;
  mask *= depth;
  stain(face.colour, halo, reflectance(pale));
  stain(face.colour, mask, reflectance(dark));
}

void draw_damage(Face& face, const EnvelopePlan& plan, const Damage& damage, Random& random) {
  const double ppm = face.plane.px_per_mm;
  switch (damage.kind) {
    case DamageKind::tear: {
      cv::Mat gap = covered(face, damage.parts_mm[0]);
      cv::Mat torn = gap.clone();
      soften(torn, 0.35 * ppm);
      tint(face.colour, torn * 0.8, plan.sheet.colour * 1.1F);
      cut_out(face, gap);
      break;
    }
    case DamageKind::hole: {
      cv::Mat gap = covered(face, damage.parts_mm[0]);
      if (random.chance(0.6)) {
        cut_out(face, gap);
      } else {
        // Only the upper leaf is eaten through: the dark inside shows.
        stain(face.colour, gap, reflectance(random.pick({0x2A221AU, 0x3A2E22U, 0x1E1A16U})));
      }
      cv::Mat rim;
      soften(gap, 0.18 * ppm);
      rim = gap * 0.35;
      stain(face.colour, rim, reflectance(0x8A7458));
      break;
    }
    case DamageKind::missing_corner: {
      cv::Mat near = covered(face, grown(convex_hull(damage.parts_mm[0]), 0.9));
      soften(near, 0.3 * ppm);
      tint(face.colour, near * 0.5, plan.sheet.colour * 1.12F);
      break;
    }
    case DamageKind::open_flap: {
      cv::Mat flap = covered(face, damage.parts_mm[0]);
      soften(flap, 0.05 * ppm);
      tint(face.colour, flap * 0.6, plan.sheet.colour * static_cast<float>(random.between(0.86, 1.08)));
      MaskPainter fold{face.plane};
      const Polygon& p = damage.parts_mm[0];
      fold.stroke({p.front(), p.back()}, 0.5, 0.8);
      cv::Mat dark = fold.coverage();
      soften(dark, 0.25 * ppm);
      stain(face.colour, dark * 0.8, reflectance(0x6A5C48));
      break;
    }
    case DamageKind::protruding: {
      ColourPainter painter{face.plane};
      for (const Polygon& part : damage.parts_mm) {
        if (damage.size_mm > 0)
          draw_wing_tip(painter, part[0], part[1], damage.size_mm, random.branch());
        else
          draw_antenna(painter, part[0], part[1], random.branch());
      }
      // What lies within the paper is hidden by it.
      cv::Mat premultiplied;
      cv::Mat coverage;
      painter.split(premultiplied, coverage);
      cv::Mat outside = 1.0 - face.alpha;
      cv::Mat shown;
      cv::multiply(coverage, outside, shown);
      for (int y = 0; y < face.colour.rows; ++y)
        for (int x = 0; x < face.colour.cols; ++x) {
          const float c = coverage.at<float>(y, x);
          if (c <= 0.01F || face.alpha.at<float>(y, x) > 0.5F) continue;
          face.colour.at<cv::Vec3f>(y, x) = premultiplied.at<cv::Vec3f>(y, x) / c;
          face.opacity.at<float>(y, x) = 1.0F;
        }
      cv::max(face.alpha, shown, face.alpha);
      break;
    }
    case DamageKind::mould:
      draw_spots(face, damage, random, random.pick({0x5A6650U, 0x4A4E46U, 0x6A6E5AU, 0x3E423EU}), 0x9AA08AU, 0.22, 0.75);
      break;
    case DamageKind::foxing:
      draw_spots(face, damage, random, random.pick({0x9A6A3AU, 0x8A5A30U, 0xA87A48U}), 0xC8A070U, 0.14, 0.75);
      break;
    case DamageKind::frass: {
      ColourPainter painter{face.plane};
      for (const Polygon& pellet : damage.parts_mm) painter.fill(pellet, random.pick({0x3A2A1CU, 0x2A2018U, 0x55402CU, 0x6A5238U}), 0.95);
      painter.lay_over(face.colour, &face.alpha);
      break;
    }
    case DamageKind::rust: {
      MaskPainter painter{face.plane};
      painter.stroke(damage.parts_mm[0], 2 * damage.size_mm);
      cv::Mat halo = painter.coverage();
      soften(halo, 0.4 * damage.size_mm * ppm);
      cv::multiply(halo, noise(halo.size(), 0.8 * ppm, random) * 0.25 + 0.75, halo);
      stain(face.colour, cv::max(halo * 0.85, 0), reflectance(random.pick({0xA8582AU, 0x9A4A20U, 0xB86C34U})));
      MaskPainter wire{face.plane};
      wire.stroke(damage.parts_mm[0], 0.55);
      stain(face.colour, wire.coverage() * 0.8, reflectance(0x5A3420));
      break;
    }
    case DamageKind::tape: {
      cv::Mat strip = covered(face, damage.parts_mm[0]);
      cv::Mat cloud = noise(strip.size(), 3 * ppm, random) * 0.12 + 0.85;
      cv::Mat yellowed;
      cv::multiply(strip, cloud, yellowed);
      stain(face.colour, yellowed * random.between(0.6, 0.95), reflectance(random.pick({0xD8B060U, 0xC89848U, 0xE0C484U})));
      MaskPainter edge{face.plane};
      edge.stroke(damage.parts_mm[0], 0.25, 0.6, true);
      stain(face.colour, edge.coverage() * 0.5, reflectance(0x9A7438));
      break;
    }
    case DamageKind::water_stain: {
      cv::Mat wet = covered(face, damage.parts_mm[0]);
      MaskPainter line{face.plane};
      line.stroke(damage.parts_mm[0], 0.8, 1.0, true);
      cv::Mat tide = line.coverage();
      soften(tide, 0.3 * ppm);
      cv::Mat inner = line.coverage();
      soften(inner, 1.8 * ppm);
      cv::multiply(inner, wet, inner);
      cv::multiply(tide, noise(tide.size(), 4 * ppm, random) * 0.22 + 0.8, tide);
      soften(wet, 0.4 * ppm);
      stain(face.colour, wet * 0.22, reflectance(0xC8A878));
      stain(face.colour, inner * 0.6, reflectance(0xB08858));
      stain(face.colour, cv::max(tide, 0) * 0.85, reflectance(0x8A6238));
      break;
    }
    case DamageKind::grease: {
      cv::Mat spot = covered(face, damage.parts_mm[0]);
      soften(spot, 0.9 * ppm);
      stain(face.colour, spot * 0.75, reflectance(random.pick({0xB89868U, 0xA88C5CU, 0xC0A474U})));
      break;
    }
    case DamageKind::crushed: {
      MaskPainter ridge{face.plane};
      MaskPainter worn{face.plane};
      const Bounds b = bounds(damage.region_mm);
      for (int i = 8 + 5 * damage.severity; i > 0; --i) {
        Polygon crease{{random.between(b.left, b.right), random.between(b.top, b.bottom)}};
        double deg = random.between(0, 360);
        for (int k = random.whole(3, 7); k > 0; --k) {
          deg += random.normal(0, 28);
          crease.push_back(crease.back() + turned(Point{random.between(1.5, 4.5), 0}, deg));
        }
        ridge.stroke(crease, 0.5, random.between(0.4, 1.0));
        worn.stroke(crease, 0.12, random.between(0.3, 0.8));
      }
      cv::Mat inside = covered(face, damage.region_mm);
      cv::Mat up = ridge.coverage();
      cv::multiply(up, inside, up);
      soften(up, 0.28 * ppm);
      face.height += up * 0.45;
      cv::Mat dirt = worn.coverage();
      cv::multiply(dirt, inside, dirt);
      stain(face.colour, dirt * 0.5, reflectance(0x7A6850));
      break;
    }
    case DamageKind::fragments: {
      ColourPainter painter{face.plane};
      for (const Polygon& piece : damage.parts_mm) draw_wing_piece(painter, piece, random.branch());
      painter.lay_over(face.colour, &face.alpha);
      break;
    }
    case DamageKind::webbing: {
      ColourPainter painter{face.plane};
      const Bounds b = bounds(damage.region_mm);
      for (int i = 60 + 50 * damage.severity; i > 0; --i) {
        const Point a{random.between(b.left, b.right), random.between(b.top, b.bottom)};
        const Point z = a + turned(Point{random.between(2, 10), 0}, random.between(0, 360));
        if (!contains(damage.region_mm, a) || !contains(damage.region_mm, z)) continue;
        trace(painter.cairo(), {a, (a + z) * 0.5 + turned(z - a, 90) * random.normal(0, 0.12), z}, false);
        set_rgb(painter.cairo(), 0xF2F0EA, random.between(0.25, 0.7));
        cairo_set_line_width(painter.cairo(), random.between(0.05, 0.14));
        cairo_stroke(painter.cairo());
      }
      for (int i = damage.severity * 2; i > 0; --i) {  // cast skins
        const Point at{random.between(b.left, b.right), random.between(b.top, b.bottom)};
        if (!contains(damage.region_mm, at)) continue;
        Polygon skin = circle({0, 0}, random.between(0.6, 1.2), 12);
        for (Point& p : skin) p.x *= 2.4;
        painter.fill(moved(turned(skin, random.between(0, 180)), at), 0x9A7444, 0.9);
      }
      painter.lay_over(face.colour, &face.alpha);
      break;
    }
    case DamageKind::faded: break;  // the ink was weakened when it was planned
  }
}

// Glassine lets the insect show through; what covers the table there is the insect, not the table.
void show_insect(Face& face, const EnvelopePlan& plan, Random& random) {
  ColourPainter painter{face.plane};
  draw_insect(painter, plan.annotation.order, plan.annotation.fauna, plan.bulge_at_mm, plan.insect_deg, plan.insect_mm, random.branch());
  cv::Mat premultiplied;
  cv::Mat coverage;
  painter.split(premultiplied, coverage);
  soften(premultiplied, 0.12 * face.plane.px_per_mm);
  soften(coverage, 0.12 * face.plane.px_per_mm);
  for (int y = 0; y < face.colour.rows; ++y) {
    for (int x = 0; x < face.colour.cols; ++x) {
      const float c = coverage.at<float>(y, x);
      if (c <= 0) continue;
      float& op = face.opacity.at<float>(y, x);
      cv::Vec3f& seen = face.colour.at<cv::Vec3f>(y, x);
      const float through = (1 - op) * c;
      seen = (seen * op + premultiplied.at<cv::Vec3f>(y, x) * (1 - op)) / (op + through);
      op += through;
    }
  }
}

}  // namespace

Face draw_face(const FontShelf& shelf, const EnvelopePlan& plan, double px_per_mm, Point light) {
  Random random{plan.seed};
  Polygon extent = plan.outline_mm;
  for (const Damage& damage : plan.damages) extent.insert(extent.end(), damage.region_mm.begin(), damage.region_mm.end());
  Face face;
  face.plane = Plane::around(bounds(extent), 3, px_per_mm);
  lay_paper(face, plan, random);
  if (plan.sheet.paper == Paper::glassine) show_insect(face, plan, random);
  for (const PlacedLine& line : plan.newsprint) draw_writing(face, shelf, line, plan.inks[line.ink], random);
  for (const PlacedLine& line : plan.lines) draw_writing(face, shelf, line, plan.inks[line.ink], random);
  raise_relief(face, plan, random);
  for (const Damage& damage : plan.damages)
    if (damage.kind != DamageKind::protruding && damage.kind != DamageKind::frass && damage.kind != DamageKind::fragments && damage.kind != DamageKind::webbing)
      draw_damage(face, plan, damage, random);
  shade(face, light);
  for (const Damage& damage : plan.damages)
    if (damage.kind == DamageKind::protruding || damage.kind == DamageKind::frass || damage.kind == DamageKind::fragments || damage.kind == DamageKind::webbing)
      draw_damage(face, plan, damage, random);
  return face;
}

}  // namespace papillote::samples
