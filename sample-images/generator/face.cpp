#include "face.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "damage_drawing.h"
#include "ink.h"
#include "noise.h"
#include "paper.h"
#include "wings.h"

namespace papillote::samples {
namespace {

// The insect as it shows through glassine: dimmed, softened, hazy.
void show_insect(Face& face, const EnvelopePlan& plan, Random& random) {
  const double ppm = face.plane.px_per_mm;
  ColourPainter insect{face.plane};
  const auto found = [&](DamageKind kind) { return std::find_if(plan.damages.begin(), plan.damages.end(), [&](const Damage& d) { return d.kind == kind; }); };
  const bool body = found(DamageKind::no_body) == plan.damages.end();
  draw_insect(insect, plan.annotation.order, plan.annotation.fauna, plan.insect_at_mm(), plan.insect_deg, plan.wing_mm(), body, random.branch());
  if (const auto broken = found(DamageKind::broken_wings); broken != plan.damages.end()) {
    break_off(insect, broken->region_mm);
    Random pieces{broken->seed};
    for (const Polygon& piece : broken->parts_mm) draw_wing_piece(insect, piece, pieces.branch());
  }
  cv::Mat colour;
  cv::Mat cover;
  insect.split(colour, cover);
  cv::GaussianBlur(colour, colour, {}, 0.13 * ppm);
  soften(cover, 0.13 * ppm);
  const auto haze = static_cast<float>(random.between(0.22, 0.42));
  for (int y = 0; y < cover.rows; ++y)
    for (int x = 0; x < cover.cols; ++x) {
      const float a = cover.at<float>(y, x);
      if (a <= 0.003F) continue;
      cv::Vec3f& p = face.colour.at<cv::Vec3f>(y, x);
      const cv::Vec3f seen = colour.at<cv::Vec3f>(y, x) * (1.0F - haze) + p * (haze * a);
      p = p * (1.0F - a) + seen;
      face.opacity.at<float>(y, x) = std::max(face.opacity.at<float>(y, x), a * 0.97F);
    }
}

// The smooth surface mirrors the lamp in wavy streaks.
void glassine_sheen(Face& face, Random& random) {
  const double ppm = face.plane.px_per_mm;
  cv::Mat sheen = streaky_noise(face.plane.size, 26 * ppm, 7 * ppm, random);
  sheen = cv::max(sheen - 0.7, 0) * random.between(0.04, 0.15);
  tint(face.colour, cv::min(sheen, 0.5), cv::Vec3f{0.95F, 0.96F, 0.97F});
  face.opacity = cv::min(face.opacity + sheen, 1.0);
}

}  // namespace

Face draw_face(const FontShelf& shelf, const EnvelopePlan& plan, double px_per_mm, Point light) {
  Random random{plan.seed};
  Polygon all = plan.outline_mm;
  for (const Damage& damage : plan.damages) all.insert(all.end(), damage.region_mm.begin(), damage.region_mm.end());
  Face face;
  face.plane = Plane::around(bounds(all), 3, px_per_mm);
  lay_paper(face, plan, random);
  if (plan.sheet.paper == Paper::glassine) show_insect(face, plan, random);

  if (plan.sheet.paper == Paper::newsprint) {
    apply_ink(face, shelf, plan.newsprint, 0, plan.inks[0], random);
  }
  for (std::size_t ink = plan.sheet.paper == Paper::newsprint ? 1 : 0; ink < plan.inks.size(); ++ink)
    apply_ink(face, shelf, plan.lines, ink, plan.inks[ink], random);

  raise_relief(face, plan, random);
  for (const Damage& damage : plan.damages) draw_on_paper(face, damage);
  if (plan.sheet.paper == Paper::glassine) glassine_sheen(face, random);
  shade(face, light);
  for (const Damage& damage : plan.damages) draw_beyond_paper(face, plan, damage);
  return face;
}

}  // namespace papillote::samples
