#include "damage.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "colour.h"
#include "envelope.h"
#include "placing.h"

namespace papillote::samples {
namespace {

struct EdgePoint {
  Point at, along, inward;
  std::size_t edge;
};

// A point on the outline, kept away from its corners.
EdgePoint on_edge(const Polygon& outline, Random& random) {
  double total = 0;
  for (std::size_t i = 0; i < outline.size(); ++i) total += length(outline[(i + 1) % outline.size()] - outline[i]);
  double left = random.unit() * total;
  for (std::size_t i = 0;; i = (i + 1) % outline.size()) {
    const Point edge = outline[(i + 1) % outline.size()] - outline[i];
    const double l = length(edge);
    if (left < l && l > 12) {
      const Point along = unit(edge);
      return {outline[i] + along * std::clamp(left, 5.0, l - 5.0), along, {-along.y, along.x}, i};
    }
    left = std::max(0.0, left - l);
  }
}

Point inside(const Polygon& paper, double margin, Random& random) {
  const Polygon region = grown(paper, -margin);
  const Bounds b = bounds(region);
  for (int i = 0; i < 200; ++i) {
    const double x = random.between(b.left, b.right);
    const double y = random.between(b.top, b.bottom);
    // Shrunk at a short side, the region may turn inside out and leave the paper there.
    if (contains(region, {x, y}) && contains(paper, {x, y})) return {x, y};
  }
  return centroid(paper);
}

Polygon blob(Point centre, double radius, double roughness, Random& random, int corners = 30) {
  std::array<double, 6> wave{};
  std::array<double, 6> phase{};
  for (std::size_t k = 0; k < wave.size(); ++k) {
    wave[k] = random.normal(0, roughness / (1.0 + static_cast<double>(k)));
    phase[k] = random.between(0, 6.28);
  }
  Polygon out;
  for (int i = 0; i < corners; ++i) {
    const double a = 6.283185307 * i / corners;
    double r = 1.0;
    for (std::size_t k = 0; k < wave.size(); ++k) r += wave[k] * std::sin(a * static_cast<double>(k + 1) + phase[k]);
    out.push_back(centre + Point{std::cos(a), std::sin(a)} * (radius * std::max(0.25, r)));
  }
  return out;
}

// Everything that an envelope can have on that side of a line through a point; `towards` has length 1 and stands across the line.
Polygon half_plane(Point at, Point towards) {
  constexpr double kFar_mm = 300;
  const Point along = Point{-towards.y, towards.x} * kFar_mm;
  return {at - along, at + along, at + along + towards * kFar_mm, at - along + towards * kFar_mm};
}

double graded(int severity, const std::array<double, 5>& steps, Random& random) {
  const auto s = static_cast<std::size_t>(severity);
  return random.between(steps[s - 1], steps[s]);
}

bool touches_writing(const EnvelopePlan& plan, const Polygon& convex) {
  return std::any_of(plan.lines.begin(), plan.lines.end(),
                     [&](const PlacedLine& line) { return overlap(line.polygon_mm, convex); });
}

using Planned = std::vector<Damage>;

Planned tear(const EnvelopePlan& plan, int severity, Random& random) {
  for (int attempt = 0; attempt < 30; ++attempt) {
    const EdgePoint e = on_edge(plan.outline_mm, random);
    const double deep = graded(severity, {4, 7, 12, 20, 32}, random);
    const double mouth = 0.5 + deep * random.between(0.04, 0.2);
    const Point apex = e.at + turned(e.inward, random.between(-30, 30)) * deep;
    if (!contains(plan.outline_mm, apex)) continue;
    Polygon wedge{e.at - e.along * (mouth / 2) - e.inward * 1.0};
    const int steps = 5 + severity * 2;
    for (const double side : {-1.0, 1.0}) {
      for (int i = 0; i < steps; ++i) {
        const double t = side < 0 ? static_cast<double>(i) / steps : 1.0 - static_cast<double>(i + 1) / steps;
        const Point middle = e.at + (apex - e.at) * t;
        const double half = mouth / 2 * (1 - t) + random.normal(0, 0.22);
        const double wander = 0.6 * std::sin(t * 7.0 + deep);
        wedge.push_back(middle + e.along * (side * std::max(0.05, half) + wander));
      }
      if (side < 0) wedge.push_back(apex);
    }
    wedge.push_back(e.at + e.along * (mouth / 2) - e.inward * 1.0);
    const Polygon region = grown(convex_hull(wedge), 0.7);
    if (attempt < 20 && touches_writing(plan, region)) continue;
    return {{DamageKind::tear, severity, clipped(region, half_plane(e.at - e.inward * 0.7, e.inward)), {wedge}, mouth, random.next()}};
  }
  return {};
}

Planned holes(const EnvelopePlan& plan, int severity, Random& random) {
  Planned out;
  const int count = random.weighted<int>({{1, 5}, {2, 3}, {3, 2}, {4, 1}});
  for (int i = 0; i < count; ++i) {
    const double diameter = graded(severity, {0.9, 1.4, 2.3, 4.0, 8.0}, random) * (i == 0 ? 1.0 : random.between(0.9, 1.0));
    for (int attempt = 0; attempt < 30; ++attempt) {
      const Point at = inside(plan.kept_mm, diameter / 2 + 2.0, random);
      const Polygon edge = blob(at, diameter / 2, 0.06, random, 24);
      if (touches_writing(plan, grown(convex_hull(edge), 0.5))) continue;
      if (!std::all_of(edge.begin(), edge.end(), [&](Point p) { return contains(plan.kept_mm, p); })) continue;
      const auto meets = [&](const Damage& other) { return length(centroid(other.region_mm) - at) < (other.size_mm + diameter) / 2 + 0.3; };
      if (std::any_of(out.begin(), out.end(), meets)) continue;  // two that meet are one hole
      out.push_back({DamageKind::hole, severity, edge, {edge}, diameter, random.next()});
      break;
    }
  }
  return out;
}

Planned missing_corner(EnvelopePlan& plan, int severity, Random& random) {
  for (int attempt = 0; attempt < 30; ++attempt) {
    const Point corner = random.pick(plan.outline_mm);
    const Point out = unit(corner - centroid(plan.outline_mm));
    const Point across{-out.y, out.x};
    const double depth = graded(severity, {4, 7, 10, 15, 22}, random);
    const Point at = corner - out * depth;
    const Point slope = unit(across + out * random.normal(0, 0.25));
    const Point beyond{slope.y, -slope.x};  // towards the corner
    const Polygon this_side = half_plane(at, Point{-beyond.x, -beyond.y});
    const Polygon gone = clipped(plan.outline_mm, half_plane(at, beyond));
    const Polygon kept = clipped(plan.outline_mm, this_side);
    if (gone.size() < 3 || kept.size() < 3 || area(gone) > 0.12 * area(plan.outline_mm) || area(gone) < 6) continue;
    if (touches_writing(plan, grown(convex_hull(gone), 1.0))) continue;
    // The torn edge is ragged.
    Polygon ragged;
    for (std::size_t i = 0; i < kept.size(); ++i) {
      const Point a = kept[i];
      const Point b = kept[(i + 1) % kept.size()];
      ragged.push_back(a);
      const auto on_cut = [&](Point p) { return std::abs((p - at).dot(beyond)) < 1e-6; };
      if (!on_cut(a) || !on_cut(b)) continue;
      const int steps = std::max(3, static_cast<int>(length(b - a) / 1.2));
      double wander = 0;
      for (int k = 1; k < steps; ++k) {
        wander = 0.75 * wander + random.normal(0, 0.4);
        ragged.push_back(a + (b - a) * (static_cast<double>(k) / steps) + beyond * wander);
      }
    }
    plan.outline_mm = ragged;
    plan.kept_mm = clipped(plan.kept_mm, this_side);
    return {{DamageKind::missing_corner, severity, gone, {gone}, depth, random.next()}};
  }
  return {};
}

Planned open_flap(EnvelopePlan& plan, int severity, Random& random) {
  std::vector<std::size_t> long_edges;
  for (std::size_t i = 0; i < plan.outline_mm.size(); ++i)
    if (length(plan.outline_mm[(i + 1) % plan.outline_mm.size()] - plan.outline_mm[i]) > 25) long_edges.push_back(i);
  if (long_edges.empty()) return {};
  const std::size_t edge = random.pick(long_edges);
  const Point a = plan.outline_mm[edge];
  const Point b = plan.outline_mm[(edge + 1) % plan.outline_mm.size()];
  const Point along = unit(b - a);
  const Point outward{along.y, -along.x};
  const double depth = graded(severity, {4, 6.5, 10, 14, 20}, random);
  const double l = length(b - a);
  // The flap stands open at one end more than at the other.
  const double lift = random.between(0.75, 1.0);
  const double inset_a = random.between(0.0, 0.12) * l + depth * 0.2;
  const double inset_b = random.between(0.0, 0.12) * l + depth * 0.2;
  const Point outer_a = a + along * inset_a + outward * depth;
  const Point outer_b = b - along * inset_b + outward * (depth * lift);
  const Polygon flap{a, outer_a, outer_b, b};
  plan.outline_mm.insert(plan.outline_mm.begin() + static_cast<std::ptrdiff_t>(edge) + 1, {outer_a, outer_b});
  std::erase_if(plan.flaps, [&](const Flap& f) { return std::abs((centroid(f.area_mm) - a).dot(outward)) < 0.3 * l && f.area_mm.size() >= 4; });
  return {{DamageKind::open_flap, severity, flap, {flap}, depth, random.next()}};
}

Planned protruding(const EnvelopePlan& plan, int severity, Random& random) {
  const EdgePoint e = on_edge(plan.outline_mm, random);
  const Point out = turned(Point{-e.inward.x, -e.inward.y}, random.between(-28, 28));
  const double reach = graded(severity, {2.2, 4, 7, 12, 18}, random);
  const Point tip = e.at + out * reach;
  const Point across{-out.y, out.x};
  Damage damage{DamageKind::protruding, severity, {}, {}, 0, random.next()};
  if (random.chance(0.6)) {
    damage.size_mm = std::min(reach * random.between(0.7, 1.3), 14.0);  // a wing tip
    const Point half = across * (damage.size_mm / 2);
    damage.parts_mm = {{e.at - out * 3.0, tip}};
    damage.region_mm = {e.at + half, e.at + out * (reach * 0.6) + half, tip + half * 0.4, tip - half * 0.4, e.at + out * (reach * 0.6) - half, e.at - half};
  } else {
    const Point second = e.at + e.along * random.between(1.5, 5.0);  // a pair of antennae or legs
    const Point second_tip = second + turned(out, random.between(-20, 20)) * (reach * random.between(0.7, 1.0));
    damage.parts_mm = {{e.at - out * 0.5, tip}, {second - out * 0.5, second_tip}};
    damage.region_mm = grown(convex_hull({e.at, tip, second, second_tip}), 0.8);
  }
  return {damage};
}

Planned spots(const EnvelopePlan& plan, DamageKind kind, int severity, Random& random) {
  const bool mould = kind == DamageKind::mould;
  const double radius = mould ? graded(severity, {4, 7, 11, 17, 26}, random) : graded(severity, {9, 14, 22, 32, 42}, random);
  const int count = static_cast<int>(mould ? graded(severity, {16, 34, 70, 140, 260}, random) : graded(severity, {9, 16, 36, 80, 150}, random));
  const Point centre = inside(plan.kept_mm, 4.0, random);
  Damage damage{kind, severity, {}, {}, 0, random.next()};
  Polygon all;
  const Polygon region = grown(plan.kept_mm, -0.6);
  // Mould grows in colonies, foxing is scattered.
  std::vector<Point> colonies;
  for (int i = 0; i < (mould ? 2 + 2 * severity : 0); ++i) {
    const double distance = radius * std::sqrt(random.unit());
    colonies.push_back(centre + turned(Point{distance, 0}, random.between(0, 360)));
  }
  for (int i = 0; i < count; ++i) {
    const double distance = mould ? std::abs(random.normal(0, 0.22 * radius)) : radius * std::sqrt(random.unit());
    const Point at = (mould ? random.pick(colonies) : centre) + turned(Point{distance, 0}, random.between(0, 360));
    if (!contains(region, at)) continue;
    const double r = mould ? 0.14 + 1.3 * std::pow(random.unit(), 3.4) * (0.7 + 0.22 * severity) : 0.15 + 0.8 * std::pow(random.unit(), 2.5);
    const Polygon spot = blob(at, r, 0.15, random, 12);
    damage.parts_mm.push_back(spot);
    all.insert(all.end(), spot.begin(), spot.end());
  }
  if (all.size() < 12 * 4) return {};
  damage.region_mm = clipped(convex_hull(all), plan.kept_mm);
  return {damage};
}

Planned frass(const EnvelopePlan& plan, int severity, Random& random) {
  const bool at_edge = random.chance(0.6);
  const Point centre = at_edge ? on_edge(plan.kept_mm, random).at : inside(plan.kept_mm, 5.0, random);
  const double radius = graded(severity, {2.5, 4, 6.5, 10, 15}, random);
  const int count = static_cast<int>(graded(severity, {14, 26, 60, 120, 240}, random));
  Damage damage{DamageKind::frass, severity, {}, {}, 0, random.next()};
  Polygon all;
  for (int i = 0; i < count; ++i) {
    const double distance = radius * std::pow(random.unit(), 0.8);
    const Point at = centre + turned(Point{distance, 0}, random.between(0, 360));
    Polygon pellet = blob({0, 0}, random.between(0.16, 0.42), 0.12, random, 9);
    for (Point& p : pellet) p.x *= random.between(1.2, 1.5);
    pellet = moved(turned(pellet, random.between(0, 180)), at);
    all.insert(all.end(), pellet.begin(), pellet.end());
    damage.parts_mm.push_back(std::move(pellet));
  }
  damage.region_mm = convex_hull(all);
  return {damage};
}

Planned rust(const EnvelopePlan& plan, int severity, Random& random) {
  const Point at = inside(plan.kept_mm, 8.0, random);
  const Point along = turned(Point{1, 0}, random.between(0, 360));
  const double long_mm = random.between(14, 26);
  const double halo = graded(severity, {0.5, 0.9, 1.6, 2.6, 4.2}, random);
  Damage damage{DamageKind::rust, severity, {}, {}, halo, random.next()};
  if (random.chance(0.5)) {
    damage.parts_mm = {{at - along * (long_mm / 2), at + along * (long_mm / 2)}};  // a pin
  } else {
    const Point across{-along.y, along.x};  // a wire clip
    Polygon wire{at - along * 11.0 + across * 3.0, at + along * 9.0 + across * 3.0, at + along * 11.0, at + along * 9.0 - across * 3.0,
                 at - along * 7.0 - across * 3.0, at - along * 9.0 - across * 0.5, at - along * 7.0 + across * 1.6, at + along * 5.0 + across * 1.6};
    damage.parts_mm = {wire};
  }
  damage.region_mm = clipped(grown(convex_hull(moved(damage.parts_mm[0], {0.01, 0.02}).size() > 2 ? damage.parts_mm[0]
                                               : Polygon{damage.parts_mm[0][0] + turned(along, 90) * 0.3, damage.parts_mm[0][0] - turned(along, 90) * 0.3,
                                                         damage.parts_mm[0][1] - turned(along, 90) * 0.3, damage.parts_mm[0][1] + turned(along, 90) * 0.3}),
                                   halo),
                             plan.kept_mm);
  if (damage.region_mm.size() < 3) return {};
  return {damage};
}

Planned tape(const EnvelopePlan& plan, int severity, Random& random) {
  const EdgePoint e = on_edge(plan.kept_mm, random);
  const Point in = turned(e.inward, random.between(-25, 25));
  const Point across{-in.y, in.x};
  const double width = random.between(9, 19);
  const double reach = graded(severity, {6, 10, 16, 24, 36}, random);
  const Polygon strip{e.at - in * 6.0 - across * (width / 2), e.at - in * 6.0 + across * (width / 2),
                      e.at + in * reach + across * (width / 2), e.at + in * reach - across * (width / 2)};
  const Polygon region = clipped(strip, plan.kept_mm);
  if (region.size() < 3 || area(region) < 25) return {};
  return {{DamageKind::tape, severity, region, {region}, width, random.next()}};
}

Planned patch(const EnvelopePlan& plan, DamageKind kind, int severity, Random& random) {
  std::array<double, 5> steps{};
  Point centre;
  double roughness = 0.16;
  switch (kind) {
    case DamageKind::water_stain:
      steps = {8, 12, 18, 27, 40};
      centre = random.chance(0.7) ? on_edge(plan.kept_mm, random).at : inside(plan.kept_mm, 6.0, random);
      break;
    case DamageKind::grease:
      steps = {5, 8, 12, 18, 26};
      centre = plan.bulge_at_mm + Point{random.normal(0, 4), random.normal(0, 4)};
      break;
    case DamageKind::crushed:
      steps = {10, 14, 20, 28, 38};
      centre = inside(plan.kept_mm, 6.0, random);
      break;
    default:
      steps = {5, 8, 13, 19, 28};
      centre = random.chance(0.5) ? on_edge(plan.kept_mm, random).at : inside(plan.kept_mm, 6.0, random);
      roughness = 0.2;
      break;
  }
  const Polygon shape = blob(centre, graded(severity, steps, random), roughness, random, 40);
  const Polygon region = clipped(shape, plan.kept_mm);
  if (region.size() < 3 || area(region) < 30) return {};
  return {{kind, severity, region, {shape}, 0, random.next()}};
}

// What counts is the contrast that is left, not what was lost: sound ink, the palest pencil too, takes two thirds of the paper's light.
Planned faded(EnvelopePlan& plan, int severity, Random& random) {
  Polygon all;
  const double contrast = graded(severity, {0.5, 0.42, 0.34, 0.25, 0.16}, random);
  for (const PlacedLine& line : plan.lines) all.insert(all.end(), line.polygon_mm.begin(), line.polygon_mm.end());
  const std::size_t first = plan.sheet.paper == Paper::newsprint ? 1 : 0;
  for (std::size_t i = first; i < plan.inks.size(); ++i) plan.inks[i].density = contrast / (1 - luminance(plan.inks[i].colour));
  return {{DamageKind::faded, severity, grown(convex_hull(all), 0.6), {}, 0, random.next()}};
}

Planned fragments(const EnvelopePlan& plan, int severity, Random& random) {
  const EdgePoint e = on_edge(plan.kept_mm, random);
  const int count = static_cast<int>(graded(severity, {1.0, 2.5, 4.5, 7.5, 12}, random));
  Damage damage{DamageKind::fragments, severity, {}, {}, 0, random.next()};
  Polygon all;
  for (int i = 0; i < count; ++i) {
    const double along = random.normal(0, 3.0 + severity);
    const double out = random.between(3.0, 6.0 + 1.5 * severity);
    const Point at = e.at + e.along * along - e.inward * out;
    if (contains(grown(plan.outline_mm, 2.5), at)) continue;
    Polygon piece = blob({0, 0}, random.between(0.7, 1.4 + 0.35 * severity), 0.22, random, 9);
    for (Point& p : piece) p.x *= 1.5;
    piece = moved(turned(piece, random.between(0, 180)), at);
    all.insert(all.end(), piece.begin(), piece.end());
    damage.parts_mm.push_back(std::move(piece));
  }
  if (all.empty()) return {};
  damage.region_mm = grown(convex_hull(all), 0.5);
  return {damage};
}

}  // namespace

const char* name(DamageKind kind) {
  switch (kind) {
    case DamageKind::tear: return "tear";
    case DamageKind::hole: return "hole";
    case DamageKind::water_stain: return "water_stain";
    case DamageKind::mould: return "mould";
    case DamageKind::foxing: return "foxing";
    case DamageKind::frass: return "frass";
    case DamageKind::rust: return "rust";
    case DamageKind::tape: return "tape";
    case DamageKind::open_flap: return "open_flap";
    case DamageKind::protruding: return "protruding";
    case DamageKind::crushed: return "crushed";
    case DamageKind::faded: return "faded";
    case DamageKind::fragments: return "fragments";
    case DamageKind::missing_corner: return "missing_corner";
    case DamageKind::webbing: return "webbing";
    case DamageKind::grease: return "grease";
    case DamageKind::broken_wings: return "broken_wings";
    case DamageKind::no_body: return "no_body";
  }
  return "";
}

void plan_damages(EnvelopePlan& plan, int count, Random random) {
  plan.kept_mm = plan.paper_mm;
  std::vector<DamageKind> chosen;
  while (static_cast<int>(chosen.size()) < count) {
    using enum DamageKind;
    const DamageKind kind = random.weighted<DamageKind>({{tear, 12}, {hole, 11}, {water_stain, 12}, {mould, 9}, {foxing, 10}, {frass, 8},
                                                         {rust, 6}, {tape, 6}, {open_flap, 7}, {protruding, 9}, {crushed, 7}, {faded, 6},
                                                         {fragments, 6}, {missing_corner, 8}, {webbing, 4}, {grease, 5}});
    if (std::find(chosen.begin(), chosen.end(), kind) == chosen.end()) chosen.push_back(kind);
  }
  // Changes of the outline come first: the rest is planned on what is left.
  std::sort(chosen.begin(), chosen.end(), [](DamageKind a, DamageKind b) {
    const auto rank = [](DamageKind k) { return k == DamageKind::open_flap ? 0 : k == DamageKind::missing_corner ? 1 : 2; };
    return rank(a) < rank(b);
  });
  for (const DamageKind kind : chosen) {
    const int severity = random.weighted<int>({{1, 28}, {2, 34}, {3, 26}, {4, 12}});
    Planned planned;
    switch (kind) {
      case DamageKind::tear: planned = tear(plan, severity, random); break;
      case DamageKind::hole: planned = holes(plan, severity, random); break;
      case DamageKind::missing_corner: planned = missing_corner(plan, severity, random); break;
      case DamageKind::open_flap: planned = open_flap(plan, severity, random); break;
      case DamageKind::protruding: planned = protruding(plan, severity, random); break;
      case DamageKind::mould:
      case DamageKind::foxing: planned = spots(plan, kind, severity, random); break;
      case DamageKind::frass: planned = frass(plan, severity, random); break;
      case DamageKind::rust: planned = rust(plan, severity, random); break;
      case DamageKind::tape: planned = tape(plan, severity, random); break;
      case DamageKind::faded: planned = faded(plan, severity, random); break;
      case DamageKind::fragments: planned = fragments(plan, severity, random); break;
      case DamageKind::water_stain:
      case DamageKind::crushed:
      case DamageKind::webbing:
      case DamageKind::grease: planned = patch(plan, kind, severity, random); break;
      case DamageKind::broken_wings:
      case DamageKind::no_body: break;  // plan_insect
    }
    plan.damages.insert(plan.damages.end(), planned.begin(), planned.end());
  }
}

void plan_insect(EnvelopePlan& plan, Random random) {
  if (plan.sheet.paper != Paper::glassine) return;
  if (random.chance(0.5)) {  // envelopes were often taken as they came: a small insect in a large one, anywhere in it
    const double whole_mm = plan.insect_mm;
    plan.insect_mm *= random.between(0.5, 0.95);
    plan.bulge_at_mm += turned(Point{random.between(0, 0.4) * (whole_mm - plan.insect_mm), 0}, random.between(0, 360));
  }
  if (plan.annotation.order == Order::dragonfly) return;
  const double wing_mm = plan.wing_mm();
  if (random.chance(0.3)) {
    const int severity = random.weighted<int>({{1, 25}, {2, 35}, {3, 28}, {4, 12}});
    const Point tip = plan.insect_at_mm() + turned(Point{1.22 * wing_mm, 0}, plan.insect_deg + random.between(-12, 12));
    const Polygon gone = blob(tip, wing_mm * graded(severity, {0.2, 0.3, 0.46, 0.66, 0.85}, random), 0.12, random, 24);
    Damage damage{DamageKind::broken_wings, severity, clipped(gone, plan.kept_mm), {}, 0, random.next()};
    for (int i = random.whole(0, severity); i > 0; --i) {  // some of it lies loose within
      const Point at = plan.bulge_at_mm + turned(Point{wing_mm * random.between(0.2, 0.9), 0}, random.between(0, 360));
      damage.parts_mm.push_back(blob(at, wing_mm * random.between(0.05, 0.16), 0.25, random, 9));
    }
    if (area(damage.region_mm) > 4) plan.damages.push_back(std::move(damage));
  }
  if (random.chance(0.2))
    plan.damages.push_back({DamageKind::no_body, 3, clipped(circle(plan.insect_at_mm(), 0.34 * wing_mm), plan.kept_mm), {}, 0, random.next()});
}

}  // namespace papillote::samples
