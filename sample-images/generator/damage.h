// Damage: planned with its exact region, then drawn.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "geometry.h"
#include "random.h"

namespace papillote::samples {

enum class DamageKind {
  tear, hole, water_stain, mould, foxing, frass, rust, tape, open_flap, protruding, crushed, faded, fragments,
  missing_corner, webbing, grease, broken_wings, no_body
};
const char* name(DamageKind kind);

struct Damage {
  DamageKind kind;
  int severity;                  // 1 slight .. 4 grave
  Polygon region_mm;             // truth
  std::vector<Polygon> parts_mm; // what is drawn; its meaning depends on the kind (broken_wings: loose pieces)
  double size_mm = 0;            // diameter of a hole, width of a tape
  std::uint64_t seed = 0;
};

struct EnvelopePlan;

// Adds damage to a plan whose writing is already placed; may change outline_mm.
void plan_damages(EnvelopePlan& plan, int count, Random random);
// The insect, where glassine lets it be seen: small for its envelope, wings broken at the tip, the body gone.
void plan_insect(EnvelopePlan& plan, Random random);

}  // namespace papillote::samples
