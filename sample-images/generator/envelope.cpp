#include "envelope.h"

#include <algorithm>
#include <cmath>

#include "colour.h"
#include "newsprint.h"
#include "placing.h"
#include "shapes.h"

namespace papillote::samples {
namespace {

Sheet choose_sheet(Paper paper, Random& random) {
  Sheet sheet{paper, {}, 0, 1, 0, 0};
  switch (paper) {
    case Paper::white: sheet.colour = reflectance(random.pick({0xEDEBE4U, 0xF1EFEAU, 0xE8E6E0U, 0xECEDEAU})); break;
    case Paper::cream: sheet.colour = reflectance(random.pick({0xEBE2CBU, 0xE9DEC2U, 0xF0E8D2U, 0xE4DAC0U})); break;
    case Paper::yellowed: sheet.colour = reflectance(random.pick({0xDCC594U, 0xD4BB88U, 0xE0CFA4U, 0xCDB07CU})); break;
    case Paper::kraft: sheet.colour = reflectance(random.pick({0xB88E5FU, 0xC39B6BU, 0xA9804FU, 0xBFA07AU})); break;
    case Paper::lined: sheet.colour = reflectance(random.pick({0xECE8DCU, 0xE6DDC4U, 0xF0EEE6U})); break;
    case Paper::glassine: sheet.colour = reflectance(random.pick({0xE2E0D6U, 0xDDD8C6U, 0xE6E6E2U, 0xD9D0B4U})); break;
    case Paper::newsprint: sheet.colour = reflectance(random.pick({0xD8CDB2U, 0xCDBF9EU, 0xD6D0BFU, 0xC8B48AU})); break;
  }
  sheet.colour *= static_cast<float>(random.between(0.93, 1.03));
  sheet.toning = paper == Paper::glassine ? random.between(0, 0.25) : random.between(0.05, paper == Paper::newsprint ? 0.9 : 0.5);
  if (paper == Paper::glassine) sheet.opacity = random.between(0.42, 0.68);
  if (paper == Paper::lined) {
    sheet.rule_pitch_mm = random.between(6.0, 8.5);
    sheet.rule_deg = random.pick({0.0, 90.0, 45.0, -45.0, 135.0}) + random.normal(0, 1.5);
  }
  return sheet;
}

Ink choose_ink(LineKind kind, Paper paper, Random& random) {
  const bool strong = paper == Paper::newsprint || paper == Paper::kraft || paper == Paper::glassine;
  const auto make = [](InkKind ink, unsigned rgb, double density) { return Ink{ink, reflectance(rgb), density}; };
  switch (kind) {
    case LineKind::handwritten:
      switch (random.weighted<int>({{0, strong ? 2 : 26}, {1, 34}, {2, 18}, {3, 10}, {4, 12}})) {
        case 0: return make(InkKind::pencil, 0x3E3E40, random.between(0.7, 0.9));
        case 1: return make(InkKind::iron_gall, random.pick({0x3A2415U, 0x4B2E17U, 0x2A1C14U, 0x5A3A1EU}), random.between(strong ? 0.85 : 0.7, 0.97));
        case 2: return make(InkKind::blue_black, random.pick({0x1B2340U, 0x20263AU, 0x26325AU}), random.between(0.82, 0.97));
        case 3: return make(InkKind::violet, random.pick({0x43206AU, 0x562A78U}), random.between(0.75, 0.95));
        default: return make(InkKind::blue_black, random.pick({0x161616U, 0x1D1A18U}), random.between(0.85, 0.98));
      }
    case LineKind::typed:
      return random.chance(0.75) ? make(InkKind::ribbon_black, 0x232326, random.between(0.8, 0.95))
                                 : make(InkKind::ribbon_violet, random.pick({0x3B2A6BU, 0x2A3A78U}), random.between(0.78, 0.92));
    case LineKind::printed: return make(InkKind::printers_black, random.pick({0x1E1D1CU, 0x2A2622U}), random.between(0.88, 0.97));
    case LineKind::stamped:
      switch (random.whole(0, 3)) {
        case 0: return make(InkKind::stamp_red, 0x8E2A2C, random.between(0.72, 0.92));
        case 1: return make(InkKind::stamp_blue, 0x2A4388, random.between(0.72, 0.92));
        case 2: return make(InkKind::ribbon_black, 0x2A2A2E, random.between(0.72, 0.9));
        default: return make(InkKind::stamp_violet, 0x5B2F86, random.between(0.72, 0.92));
      }
    case LineKind::newsprint: return make(InkKind::printers_black, 0x34302A, random.between(0.48, 0.72));
  }
  return make(InkKind::pencil, 0x4A4A4C, 0.7);
}

FontUse use_of(LineKind kind) {
  switch (kind) {
    case LineKind::handwritten: return FontUse::hand;
    case LineKind::typed: return FontUse::type;
    case LineKind::stamped: return FontUse::stamp;
    default: return FontUse::print;
  }
}

std::string joined(const std::vector<std::string>& lines) {
  std::string all;
  for (const std::string& line : lines) all += line;
  return all;
}

// The direction of each longer edge, both ways round: people write along an edge.
double choose_direction(const Polygon& paper, Random& random) {
  double total = 0;
  std::vector<std::pair<double, double>> choices;  // direction, weight
  for (std::size_t i = 0; i < paper.size(); ++i) {
    const Point edge = paper[(i + 1) % paper.size()] - paper[i];
    if (length(edge) < 15) continue;
    const double deg = std::atan2(edge.y, edge.x) * 180 / 3.14159265358979;
    // The outline runs clockwise: writing along the edge keeps it above the line, writing against it below.
    const double along = length(edge);
    choices.emplace_back(deg, along * 0.55);
    choices.emplace_back(deg + 180, along);
    total += along * 1.55;
  }
  double left = random.unit() * total;
  for (const auto& [deg, weight] : choices) {
    if (left < weight) return deg;
    left -= weight;
  }
  return choices.front().first;
}

double smallest(LineKind kind) {
  switch (kind) {
    case LineKind::handwritten: return 1.4;
    case LineKind::typed: return 1.45;
    case LineKind::printed: return 1.2;
    default: return 1.5;
  }
}

double wanted(LineKind kind, Random& random) {
  switch (kind) {
    case LineKind::handwritten: return random.between(1.7, 3.2);
    case LineKind::typed: return random.between(1.75, 2.1);
    case LineKind::printed: return random.between(1.4, 2.3);
    default: return random.between(2.0, 3.6);
  }
}

// Writes the blocks; what finds no room is left out of the facts too.
bool set_annotation(const FontShelf& shelf, EnvelopePlan& plan, Random& random) {
  std::vector<Block> kept;
  for (std::size_t b = 0; b < plan.annotation.blocks.size(); ++b) {
    const Block& block = plan.annotation.blocks[b];
    const bool main = b == 0 && !plan.back;
    BlockWish wish{block.kind, block.lines, {}, plan.upright_deg, smallest(block.kind), !main};
    wish.lettering = {&shelf.pick(use_of(block.kind), joined(block.lines), random), block.kind, wanted(block.kind, random),
                      random.between(0.5, 1.4), block.kind == LineKind::stamped ? random.between(0.0, 0.12) : 0.0,
                      block.kind == LineKind::handwritten ? random.between(0.26, 0.48) : 0.0};
    if (plan.sheet.paper == Paper::newsprint && block.kind == LineKind::handwritten) {
      wish.lettering.x_height_mm += random.between(0.6, 1.2);  // over print one writes large, with a broad pen
      wish.lettering.pen_mm = random.between(0.5, 0.8);
      wish.smallest_x_height_mm = 1.9;
    }
    if (!main) {
      wish.direction_deg += random.weighted<double>({{0, 6}, {90, 2}, {-90, 2}, {180, 1}});
      if (block.kind == LineKind::stamped) wish.direction_deg += random.normal(0, 4);
    }
    const std::size_t before = plan.lines.size();
    if (!place_block(shelf, plan, wish, plan.inks.size(), random)) {
      if (main) return false;
      if (block.lines.size() == 1 && plan.annotation.facts.number && block.lines[0] == *plan.annotation.facts.number)
        plan.annotation.facts.number.reset();
      if (block.lines.size() == 1 && (block.lines[0] == "♂" || block.lines[0] == "♀" || block.lines[0] == "♂♀"))
        plan.annotation.facts.sex.reset();
      continue;
    }
    plan.inks.push_back(choose_ink(block.kind, plan.sheet.paper, random));
    kept.push_back(block);
    // Reading order: a heading in the same direction and above the main block comes first.
    if (b > 0 && std::abs(wish.direction_deg - plan.upright_deg) < 1) {
      const auto height = [&](const PlacedLine& line) { return turned(centroid(line.polygon_mm), -plan.upright_deg).y; };
      if (height(plan.lines[before]) < height(plan.lines[0]))
        std::rotate(plan.lines.begin(), plan.lines.begin() + static_cast<std::ptrdiff_t>(before), plan.lines.end());
    }
  }
  plan.annotation.blocks = kept;
  return true;
}

}  // namespace

const char* name(Shape shape) {
  switch (shape) {
    case Shape::triangle: return "triangle";
    case Shape::rectangle: return "rectangle";
    case Shape::trapezoid: return "trapezoid";
  }
  return "";
}

const char* name(Paper paper) {
  switch (paper) {
    case Paper::white: return "white";
    case Paper::cream: return "cream";
    case Paper::yellowed: return "yellowed";
    case Paper::kraft: return "kraft";
    case Paper::lined: return "lined";
    case Paper::glassine: return "glassine";
    case Paper::newsprint: return "newsprint";
  }
  return "";
}

Polygon EnvelopePlan::crop_mm() const {
  const Bounds b = bounds(turned(outline_mm, -upright_deg));
  return turned(rectangle(b.left, b.top, b.right, b.bottom), upright_deg);
}

EnvelopePlan plan_envelope(const FontShelf& shelf, const Tin& tin, const std::string& truth_id, const PlanWishes& wishes, Random random) {
  for (;;) {
    EnvelopePlan plan;
    plan.truth_id = truth_id;
    plan.seed = random.next();
    plan.shape = wishes.shape.value_or(random.weighted<Shape>({{Shape::triangle, 60}, {Shape::rectangle, 25}, {Shape::trapezoid, 15}}));
    const Paper paper = wishes.paper.value_or(random.weighted<Paper>({{Paper::white, 20}, {Paper::cream, 20}, {Paper::yellowed, 16},
                                                                      {Paper::kraft, 10}, {Paper::lined, 10}, {Paper::glassine, 10},
                                                                      {Paper::newsprint, 14}}));
    plan.sheet = choose_sheet(paper, random);
    if (wishes.paper_colour && paper != Paper::glassine && paper != Paper::newsprint) {
      plan.sheet.colour = *wishes.paper_colour * static_cast<float>(random.between(0.9, 1.12));
      plan.sheet.toning *= 0.5;
    }
    plan.annotation = write_annotation(tin, paper == Paper::newsprint, random);
    std::size_t letters = 0;
    for (const std::string& line : plan.annotation.blocks[0].lines) letters = std::max(letters, line.size());
    // Long lines were written on larger papers.
    const double least = std::max(wishes.smallest_mm * (plan.shape == Shape::triangle ? 1.2 : 1.0), 30.0 + 1.5 * static_cast<double>(letters));
    const double longest = random.between(std::min(least, wishes.largest_mm - 5), wishes.largest_mm);
    const Folded folded = fold(plan.shape, longest, random);
    plan.paper_mm = folded.paper_mm;
    plan.outline_mm = folded.paper_mm;
    plan.flaps = folded.flaps;
    plan.folds_mm = folded.folds_mm;
    plan.bulge_at_mm = folded.bulge_at_mm;
    plan.insect_deg = folded.insect_deg + random.normal(0, 8);
    plan.insect_mm = longest * random.between(0.36, 0.46);
    plan.bulge_mm = random.between(0.4, 2.2) * longest / 80.0;
    plan.upright_deg = choose_direction(plan.paper_mm, random);
    if (paper == Paper::newsprint) {
      plan.inks.push_back(choose_ink(LineKind::newsprint, paper, random));
      plan.newsprint = set_newsprint(shelf, plan.paper_mm, tin.places.front()->language, 0, random);
    }
    if (!set_annotation(shelf, plan, random)) continue;
    const int damages = random.chance(wishes.damaged) ? random.weighted<int>({{1, 60}, {2, 28}, {3, 12}}) : 0;
    plan_damages(plan, damages, random.branch());
    if (wishes.broken_insects) plan_insect(plan, Random{plan.seed ^ 0xB0D7U});
    return plan;
  }
}

EnvelopePlan plan_back(const FontShelf& shelf, const Tin& tin, const EnvelopePlan& front, Random random) {
  EnvelopePlan plan = front;
  plan.back = true;
  plan.seed = random.next();
  const Folded folded = fold_back(front, random);
  plan.paper_mm = folded.paper_mm;
  plan.outline_mm = mirrored(front.outline_mm);
  plan.flaps = folded.flaps;
  plan.folds_mm = folded.folds_mm;
  plan.bulge_at_mm = folded.bulge_at_mm;
  plan.insect_deg = folded.insect_deg;
  plan.upright_deg = 180 - front.upright_deg;
  plan.lines.clear();
  plan.inks.clear();
  plan.newsprint.clear();
  if (plan.sheet.paper == Paper::newsprint) {
    plan.inks.push_back(choose_ink(LineKind::newsprint, Paper::newsprint, random));
    plan.newsprint = set_newsprint(shelf, plan.paper_mm, tin.places.front()->language, 0, random);
  }
  plan.annotation = write_back_annotation(tin, front.annotation, random);
  set_annotation(shelf, plan, random);
  // What goes through the paper shows on both faces.
  std::vector<Damage> through;
  for (Damage damage : front.damages) {
    switch (damage.kind) {
      case DamageKind::faded:
      case DamageKind::frass:
      case DamageKind::tape:
      case DamageKind::webbing: continue;
      default: break;
    }
    damage.region_mm = mirrored(damage.region_mm);
    for (Polygon& part : damage.parts_mm) part = mirrored(part);
    through.push_back(damage);
  }
  plan.damages = through;
  return plan;
}

}  // namespace papillote::samples
