#include "wings.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace papillote::samples {
namespace {

struct Palette {
  unsigned ground, margin, band, spot, vein;
};

Palette choose_palette(Order order, Fauna fauna, Random& random) {
  static const std::vector<Palette> butterflies{
      {0xE8D9A0, 0x2A221C, 0x2E2A26, 0x3A5FA0, 0x3A2E22}, {0xE7E4D8, 0x4A463E, 0x8C8676, 0xB8402A, 0x6A6458},
      {0xC46A26, 0x33241A, 0x6A3A1C, 0xE8DCC0, 0x4A2A16}, {0x5A4030, 0x2C1E16, 0xC8742C, 0xE4D6B4, 0x30221A},
      {0x3E62A8, 0x1A1A22, 0x20304E, 0xE6E2D8, 0x22283A}, {0x2A2420, 0x14110F, 0xB63A2E, 0xEEE6D4, 0x120F0D},
      {0xE2C23A, 0x2E281C, 0xC87A24, 0xE6DCC2, 0x7A6824}, {0x6E8C4A, 0x37301E, 0x96A468, 0xE8E4D0, 0x4A5632},
      {0x8A6A44, 0x4E3824, 0xB69468, 0x241A14, 0x5C4228}, {0xDCA03C, 0x3A2818, 0x1E1814, 0xF0E8D8, 0x4A3018}};
  static const std::vector<Palette> tropical{
      {0x2C6CC8, 0x14161E, 0x1E2C4E, 0xF0EDE2, 0x18223A}, {0x1E1A1A, 0x0E0C0C, 0xC8352A, 0xE8D24A, 0x0E0C0C},
      {0x2E8A6A, 0x16201C, 0x1E3A30, 0xE0DCC0, 0x1A2C26}, {0xB8722E, 0x241A14, 0x5A3820, 0xEADFC6, 0x3A2616}};
  static const std::vector<Palette> moths{
      {0x8C7A64, 0x4E4236, 0x6A5A48, 0xC8B898, 0x5A4C3C}, {0xA6926E, 0x5E4C36, 0x7C6646, 0x3A2E22, 0x6A5638},
      {0xC8B08A, 0x7A5A3C, 0x9A6E4A, 0x2A2A30, 0x8A6A48}, {0x6A5C50, 0x3A322C, 0xA84A3A, 0xE0D2B4, 0x40362E},
      {0xBCC8A4, 0x7A8A64, 0x94A07A, 0xA04A54, 0x7C8A68}};
  if (order == Order::moth) return random.pick(moths);
  if (fauna != Fauna::europe && random.chance(0.6)) return random.pick(tropical);
  return random.pick(butterflies);
}

Polygon shaped(std::vector<Point> points, double wobble, double size, Random& random) {
  for (Point& p : points) {
    const double dx = random.normal(0, wobble);
    const double dy = random.normal(0, wobble);
    p = (p + Point{dx, dy}) * size;
  }
  return points;
}

Polygon scaled_about(const Polygon& polygon, Point centre, double factor) {
  Polygon out;
  for (const Point& p : polygon) out.push_back(centre + (p - centre) * factor);
  return out;
}

void fill_smooth(cairo_t* cairo, const Polygon& polygon, unsigned rgb, double opacity) {
  trace_smooth(cairo, polygon);
  set_rgb(cairo, rgb, opacity);
  cairo_fill(cairo);
}

void pattern_wing(cairo_t* cairo, const Polygon& wing, Point base, const Palette& palette, double size, Random& random) {
  cairo_save(cairo);
  trace_smooth(cairo, wing);
  cairo_clip(cairo);
  set_rgb(cairo, palette.ground);
  cairo_paint(cairo);
  const Point middle = centroid(wing);
  // Darker towards the base.
  cairo_pattern_t* dusk = cairo_pattern_create_radial(base.x, base.y, size * 0.05, base.x, base.y, size * random.between(0.4, 0.9));
  cairo_pattern_add_color_stop_rgba(dusk, 0, ((palette.margin >> 16) & 255U) / 255.0, ((palette.margin >> 8) & 255U) / 255.0,
                                    (palette.margin & 255U) / 255.0, 0.8);
  cairo_pattern_add_color_stop_rgba(dusk, 1, 0, 0, 0, 0);
  cairo_set_source(cairo, dusk);
  cairo_paint(cairo);
  cairo_pattern_destroy(dusk);
  const double margin = random.between(0.0, 0.2);
  if (margin > 0.03) {
    trace_smooth(cairo, wing);
    trace_smooth(cairo, wing);
    set_rgb(cairo, palette.margin, 0.9);
    cairo_set_line_width(cairo, size * margin);
    cairo_stroke(cairo);
  }
  const int bands = random.whole(0, 3);
  for (int b = 0; b < bands; ++b) {
    const Polygon line = scaled_about(wing, base, random.between(0.35, 0.9));
    trace_smooth(cairo, line);
    set_rgb(cairo, random.chance(0.6) ? palette.band : palette.spot, random.between(0.5, 0.95));
    cairo_set_line_width(cairo, size * random.between(0.015, 0.1));
    cairo_stroke(cairo);
  }
  const int veins = random.whole(6, 11);
  for (int v = 0; v < veins; ++v) {
    const Point& end = wing[static_cast<std::size_t>(v) * wing.size() / static_cast<std::size_t>(veins)];
    const Point bend = (base + end) * 0.5 + (middle - (base + end) * 0.5) * 0.3;
    cairo_move_to(cairo, base.x, base.y);
    cairo_curve_to(cairo, bend.x, bend.y, bend.x, bend.y, end.x, end.y);
    set_rgb(cairo, palette.vein, 0.55);
    cairo_set_line_width(cairo, size * 0.008);
    cairo_stroke(cairo);
  }
  const int spots = random.chance(0.6) ? random.whole(1, 7) : 0;
  for (int s = 0; s < spots; ++s) {
    const Point at = base + (random.pick(wing) - base) * random.between(0.55, 0.88);
    const double r = size * random.between(0.012, 0.06);
    fill_smooth(cairo, circle(at, r * 1.6, 10), palette.margin, 0.85);
    fill_smooth(cairo, circle(at, r, 10), palette.spot, 0.95);
    if (random.chance(0.5)) fill_smooth(cairo, circle(at, r * 0.45, 8), 0x101010, 0.95);
  }
  for (int i = 0; i < 14; ++i) {
    const Point at = base + (random.pick(wing) - base) * random.unit();
    fill_smooth(cairo, circle(at, size * random.between(0.02, 0.09), 9), random.chance(0.5) ? palette.vein : palette.band, 0.07);
  }
  cairo_restore(cairo);
  trace_smooth(cairo, wing);
  set_rgb(cairo, palette.vein, 0.7);
  cairo_set_line_width(cairo, size * 0.01);
  cairo_stroke(cairo);
}

void draw_body(cairo_t* cairo, Point from, Point to, double width, unsigned rgb, Random& random) {
  const Point along = to - from;
  const Point across = Point{-along.y, along.x} * (width / (2 * std::max(0.1, length(along))));
  Polygon outline;
  for (const double t : {0.0, 0.15, 0.4, 0.7, 0.95, 1.0}) outline.push_back(from + along * t + across * (t < 0.2 ? 0.8 : t > 0.9 ? 0.35 : 1.0));
  for (const double t : {0.95, 0.7, 0.4, 0.15, 0.0}) outline.push_back(from + along * t - across * (t < 0.2 ? 0.8 : t > 0.9 ? 0.35 : 1.0));
  fill_smooth(cairo, outline, rgb, 1.0);
  for (double t = 0.35; t < 0.95; t += 0.09) {
    const Point a = from + along * t + across * 0.9;
    const Point b = from + along * t - across * 0.9;
    cairo_move_to(cairo, a.x, a.y);
    cairo_line_to(cairo, b.x, b.y);
    set_rgb(cairo, 0x0A0806, random.between(0.2, 0.5));
    cairo_set_line_width(cairo, width * 0.08);
    cairo_stroke(cairo);
  }
}

void draw_thread(cairo_t* cairo, Point from, Point bend, Point to, double width, unsigned rgb, double opacity = 1.0) {
  cairo_move_to(cairo, from.x, from.y);
  cairo_curve_to(cairo, bend.x, bend.y, bend.x, bend.y, to.x, to.y);
  set_rgb(cairo, rgb, opacity);
  cairo_set_line_width(cairo, width);
  cairo_stroke(cairo);
}

void draw_dragonfly(cairo_t* cairo, double size, Random& random) {
  const unsigned body = random.pick({0x3A2E20U, 0x26343CU, 0x6A2A20U, 0x2E3A22U, 0x4A4030U});
  const bool tinted = random.chance(0.4);
  const unsigned tint_rgb = random.pick({0x8A5A24U, 0x2A3A6AU, 0xA88A4AU});
  for (int w = 0; w < 4; ++w) {
    const double lean = random.between(-9, 9) + (w < 2 ? -6 : 6);
    const double reach = size * (w < 2 ? 1.0 : 0.95);
    const double wide = size * (w < 2 ? 0.2 : 0.26);
    Polygon wing{{0, 0}, {reach * 0.3, -wide * 0.25}, {reach * 0.7, -wide * 0.4}, {reach * 0.97, -wide * 0.25}, {reach, 0},
                 {reach * 0.85, wide * 0.42}, {reach * 0.5, wide * 0.55}, {reach * 0.15, wide * 0.4}};
    wing = turned(wing, lean);
    fill_smooth(cairo, wing, tinted ? tint_rgb : 0xCFCBBEU, tinted ? 0.35 : 0.22);
    cairo_save(cairo);
    trace_smooth(cairo, wing);
    cairo_clip(cairo);
    for (int v = 0; v < 9; ++v) {
      const Point end = turned(Point{reach, wide * (-0.4 + 0.11 * v)}, lean);
      draw_thread(cairo, {0, 0}, turned(Point{reach * 0.5, wide * (-0.5 + 0.13 * v)}, lean), end, size * 0.006, 0x2A2218, 0.7);
    }
    for (int c = 1; c < 26; ++c) {
      const double x = reach * c / 26.0;
      const Point a = turned(Point{x, -wide * 0.45}, lean);
      const Point b = turned(Point{x + reach * 0.02, wide * 0.6}, lean);
      draw_thread(cairo, a, (a + b) * 0.5, b, size * 0.0035, 0x2A2218, 0.45);
    }
    cairo_restore(cairo);
    const Point mark = turned(Point{reach * 0.86, -wide * 0.24}, lean);
    fill_smooth(cairo, moved(turned(rectangle(-size * 0.04, -size * 0.008, size * 0.04, size * 0.01), lean), mark), 0x3A2818, 0.95);
    trace_smooth(cairo, wing);
    set_rgb(cairo, 0x2A2218, 0.8);
    cairo_set_line_width(cairo, size * 0.008);
    cairo_stroke(cairo);
  }
  const double bend = random.between(-0.15, 0.15) * size;
  draw_body(cairo, {-size * 0.05, size * 0.05}, {size * 0.25, size * 1.02 + bend}, size * 0.06, body, random);
  fill_smooth(cairo, circle({-size * 0.02, size * 0.02}, size * 0.085, 12), body, 1.0);
  fill_smooth(cairo, circle({-size * 0.11, -size * 0.07}, size * 0.065, 12), random.pick({0x2A3A2AU, 0x4A2A20U, 0x28343CU}), 1.0);
}

}  // namespace

void draw_insect(const ColourPainter& painter, Order order, Fauna fauna, Point at, double wings_deg, double wing_mm, bool body, Random random) {
  cairo_t* cairo = painter.cairo();
  const double s = wing_mm;
  cairo_save(cairo);
  cairo_translate(cairo, at.x, at.y);
  cairo_rotate(cairo, (wings_deg + 45) * 3.14159265358979 / 180.0);
  if (random.chance(0.5)) cairo_scale(cairo, -1, 1), cairo_rotate(cairo, -1.5707963);
  if (order == Order::dragonfly) {
    draw_dragonfly(cairo, s, random);
  } else {
    const Palette palette = choose_palette(order, fauna, random);
    const double w = 0.035;
    Polygon fore = shaped({{0, 0}, {0.08, -0.28}, {0.34, -0.68}, {0.72, -0.98}, {0.9, -0.95}, {0.93, -0.72}, {0.84, -0.42}, {0.62, -0.14}, {0.3, -0.02}}, w, s, random);
    Polygon hind = shaped({{0, 0}, {0.3, -0.12}, {0.62, -0.22}, {0.8, -0.08}, {0.82, 0.18}, {0.7, 0.4}, {0.46, 0.5}, {0.2, 0.38}, {0.05, 0.2}}, w, s, random);
    fore[0] = hind[0] = {0, 0};
    if (random.chance(0.25)) {
      const Point tail = hind[5] + Point{0.24 * s, 0.2 * s};
      hind.insert(hind.begin() + 5, {hind[4] + Point{0.02, 0.1} * s, tail, tail + Point{-0.05 * s, 0.04 * s}});
    }
    if (body) draw_body(cairo, Point{-0.16, -0.28} * s, Point{0.16, 0.42} * s, s * (order == Order::moth ? 0.2 : 0.1), palette.margin, random);
    pattern_wing(cairo, fore, {0, 0}, palette, s, random);
    pattern_wing(cairo, hind, {0, 0}, palette, s, random);
    if (body) {
      fill_smooth(cairo, circle(Point{-0.16, -0.3} * s, s * 0.055, 10), palette.margin, 1.0);
      for (const double lean : {-0.06, 0.06})
        draw_thread(cairo, Point{-0.17, -0.33} * s, Point{-0.1 + lean, -0.55} * s, Point{0.02 + 2 * lean, -0.75} * s, s * 0.012, palette.margin);
    }
  }
  cairo_restore(cairo);
}

void break_off(const ColourPainter& painter, const Polygon& part) {
  cairo_t* cairo = painter.cairo();
  cairo_save(cairo);
  cairo_new_path(cairo);
  for (const Point& p : part) cairo_line_to(cairo, p.x, p.y);
  cairo_close_path(cairo);
  cairo_set_operator(cairo, CAIRO_OPERATOR_DEST_OUT);
  cairo_set_source_rgba(cairo, 0, 0, 0, 1);
  cairo_fill(cairo);
  cairo_restore(cairo);
}

void draw_wing_tip(const ColourPainter& painter, Point root, Point tip, double width_mm, Random random) {
  const Palette palette = choose_palette(Order::butterfly, Fauna::americas, random);
  const Point along = tip - root;
  const Point across = unit(Point{-along.y, along.x}) * (width_mm / 2);
  const Polygon wing{root + across * 1.1, root + along * 0.5 + across, root + along * 0.85 + across * 0.75, tip + across * 0.2,
                     root + along * 0.93 - across * 0.45, root + along * 0.5 - across, root - across * 1.1};
  pattern_wing(painter.cairo(), wing, root - along * 0.6, palette, length(along) * 1.8, random);
}

void draw_antenna(const ColourPainter& painter, Point root, Point tip, Random random) {
  const Point bend = (root + tip) * 0.5 + turned(tip - root, 90) * random.between(-0.3, 0.3);
  draw_thread(painter.cairo(), root, bend, tip, random.between(0.18, 0.3), 0x1E1610);
  if (random.chance(0.6)) draw_thread(painter.cairo(), tip, tip, tip + unit(tip - bend) * 1.6, 0.6, 0x1E1610);
}

void draw_wing_piece(const ColourPainter& painter, const Polygon& outline, Random random) {
  const Palette palette = choose_palette(Order::butterfly, Fauna::americas, random);
  const Bounds b = bounds(outline);
  const Point base = b.middle() - Point{b.width(), b.height() * random.between(-0.5, 0.5)};
  pattern_wing(painter.cairo(), outline, base, palette, std::max(b.width(), b.height()) * 1.5, random);
}

}  // namespace papillote::samples
