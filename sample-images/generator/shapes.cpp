#include "shapes.h"

#include <algorithm>
#include <cmath>

namespace papillote::samples {
namespace {

Point jitter(Point p, double mm, Random& random) {
  const double dx = random.normal(0, mm);
  const double dy = random.normal(0, mm);
  return p + Point{dx, dy};
}

Flap band(Point a, Point b, double width, double taper_a, double taper_b) {
  // A strip inside the edge a to b; the inside lies to the right hand of a -> b (y down, clockwise outline).
  const Point along = unit(b - a);
  const Point inward{-along.y, along.x};
  const Point inner_a = a + inward * width + along * taper_a;
  const Point inner_b = b + inward * width - along * taper_b;
  return {{a, b, inner_b, inner_a}, inner_a, inner_b};
}

// Right angle at the origin, legs along x and y, clockwise.
Folded fold_triangle(double hypotenuse, Random& random) {
  const double leg = hypotenuse / std::sqrt(2.0);
  const double uneven = random.normal(0, 0.012) * leg;
  const Point corner = jitter({0, 0}, 0.3, random);
  const Point right{leg + uneven, random.normal(0, 0.4)};
  const Point down{random.normal(0, 0.4), leg - uneven};
  Folded out;
  // The sharp tips are blunt: the strips are turned over there.
  const double blunt_right = random.between(0.3, 3.2);
  const double blunt_down = random.between(0.3, 3.2);
  const Point slope = unit(down - right);
  out.paper_mm = {corner, right - Point{blunt_right * 0.4, 0}, right + slope * blunt_right,
                  down - slope * blunt_down, down - Point{0, blunt_down * 0.4}};
  const double width = random.between(0.11, 0.2) * leg;
  if (random.chance(0.8)) {
    out.flaps.push_back(band(corner, right, width, random.chance(0.5) ? 0.0 : width * random.between(0.2, 1.0),
                             width * random.between(0.9, 1.05)));
    out.flaps.back().area_mm = clipped(out.flaps.back().area_mm, out.paper_mm);
  }
  if (random.chance(0.3)) {
    // The right-angled corner turned over once more.
    const double turn = random.between(5, 11);
    out.flaps.push_back({{corner, corner + Point{turn, 0}, corner + Point{0, turn}}, corner + Point{turn, 0}, corner + Point{0, turn}});
  }
  out.bulge_at_mm = Point{leg * 0.33, leg * 0.36};
  out.insect_deg = 135.0;
  return out;
}

Folded fold_rectangle(double width, Random& random) {
  const double height = width * random.between(0.55, 0.8);
  Folded out;
  for (const Point& p : rectangle(0, 0, width, height)) out.paper_mm.push_back(jitter(p, 0.35, random));
  if (random.chance(0.45)) {
    const double taper = random.chance(0.5) ? random.between(0.02, 0.3) * width : 0.0;
    out.flaps.push_back(band(out.paper_mm[0], out.paper_mm[1], random.between(0.16, 0.32) * height, taper, taper));
  } else if (random.chance(0.35)) {
    out.flaps.push_back(band(out.paper_mm[1], out.paper_mm[2], random.between(0.08, 0.16) * width, 0, 0));
  }
  if (random.chance(0.3)) out.folds_mm.push_back({{width * 0.5, 0}, {width * 0.5 + random.normal(0, 1), height}});
  out.bulge_at_mm = {width * 0.5, height * 0.52};
  out.insect_deg = random.between(-20, 20);
  return out;
}

Folded fold_trapezoid(double width, Random& random) {
  Folded out;
  if (random.chance(0.5)) {
    // A triangle whose sharp corner is folded away.
    const double leg = width;
    const double kept = random.between(0.55, 0.75);
    out.paper_mm = {jitter({0, 0}, 0.3, random), jitter({leg * kept, 0}, 0.3, random),
                    jitter({leg * kept, leg * (1 - kept)}, 0.3, random), jitter({0, leg}, 0.4, random)};
    out.flaps.push_back(band(out.paper_mm[1], out.paper_mm[2], leg * (1 - kept) * 0.55, 0, 0));
    out.flaps.back().area_mm = clipped(out.flaps.back().area_mm, out.paper_mm);
    out.bulge_at_mm = {leg * 0.3, leg * 0.4};
    out.insect_deg = 125;
  } else {
    const double height = width * random.between(0.5, 0.68);
    const double slope = width * random.between(0.08, 0.2);
    out.paper_mm = {jitter({slope, 0}, 0.3, random), jitter({width - slope, 0}, 0.3, random),
                    jitter({width, height}, 0.3, random), jitter({0, height}, 0.3, random)};
    if (random.chance(0.6)) out.flaps.push_back(band(out.paper_mm[2], out.paper_mm[3], random.between(0.16, 0.26) * height, 2, 2));
    out.bulge_at_mm = {width * 0.5, height * 0.5};
    out.insect_deg = random.between(-15, 15);
  }
  return out;
}

}  // namespace

Folded fold(Shape shape, double largest_mm, Random& random) {
  Folded out = shape == Shape::triangle    ? fold_triangle(largest_mm, random)
               : shape == Shape::rectangle ? fold_rectangle(largest_mm, random)
                                           : fold_trapezoid(std::min(largest_mm, 95.0), random);
  if (random.chance(0.5)) {
    const auto flip = [](Point p) { return Point{-p.x, p.y}; };
    out.paper_mm = mirrored(out.paper_mm);
    for (Flap& flap : out.flaps) flap = {mirrored(flap.area_mm), flip(flap.edge_to_mm), flip(flap.edge_from_mm)};
    for (Polygon& f : out.folds_mm) f = mirrored(f);
    out.bulge_at_mm = flip(out.bulge_at_mm);
    out.insect_deg = 180 - out.insect_deg;
  }
  return out;
}

Folded fold_back(const EnvelopePlan& front, Random& random) {
  Folded out;
  out.paper_mm = mirrored(front.paper_mm);
  for (const Polygon& f : front.folds_mm) out.folds_mm.push_back(mirrored(f));
  out.bulge_at_mm = {-front.bulge_at_mm.x, front.bulge_at_mm.y};
  out.insect_deg = 180 - front.insect_deg;
  if (front.shape == Shape::rectangle) {
    // Two seams and the closing flap.
    const Bounds b = bounds(out.paper_mm);
    const double depth = b.height() * random.between(0.35, 0.6);
    out.flaps.push_back(band({b.right, b.bottom}, {b.left, b.bottom}, depth * 0.8, 1, 1));
    out.flaps.push_back(band({b.left, b.top}, {b.right, b.top}, depth, b.width() * random.between(0.0, 0.3), b.width() * random.between(0.0, 0.3)));
  } else {
    // The second strip lies along the edge opposite to the first one of the front.
    const Polygon& p = out.paper_mm;
    const Bounds b = bounds(p);
    std::size_t best = 0;
    double longest = 0;
    for (std::size_t i = 0; i < p.size(); ++i) {
      const Point edge = p[(i + 1) % p.size()] - p[i];
      const bool upright = std::abs(edge.y) > 4 * std::abs(edge.x);
      if (upright && length(edge) > longest) {
        longest = length(edge);
        best = i;
      }
    }
    const double width = random.between(0.1, 0.16) * std::max(b.width(), b.height());
    out.flaps.push_back(band(p[best], p[(best + 1) % p.size()], width, 0, 0));
  }
  for (Flap& flap : out.flaps) flap.area_mm = clipped(flap.area_mm, out.paper_mm);
  return out;
}

}  // namespace papillote::samples
