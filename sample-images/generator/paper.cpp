#include "paper.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "noise.h"

namespace papillote::samples {
namespace {

void multiply(cv::Mat& colour, const cv::Mat& field, double strength, cv::Vec3f per_channel = {1, 1, 1}) {
  const auto s = static_cast<float>(strength);
  for (int y = 0; y < colour.rows; ++y) {
    cv::Vec3f* p = colour.ptr<cv::Vec3f>(y);
    const float* f = field.ptr<float>(y);
    for (int x = 0; x < colour.cols; ++x)
      for (int c = 0; c < 3; ++c) p[x][c] *= 1.0F + s * per_channel[c] * f[x];
  }
}

void draw_fibres(cairo_t* cairo, const Bounds& b, int count, double length_mm, double width_mm, Random& random) {
  for (int i = 0; i < count; ++i) {
    const double x = random.between(b.left, b.right);
    const double y = random.between(b.top, b.bottom);
    const Point along = turned(Point{length_mm * random.between(0.3, 1.0), 0}, random.between(0, 360));
    const Point bend = turned(along, random.between(-40, 40)) * 0.5;
    cairo_move_to(cairo, x, y);
    cairo_curve_to(cairo, x + bend.x, y + bend.y, x + bend.x, y + bend.y, x + along.x, y + along.y);
    cairo_set_source_rgba(cairo, 0, 0, 0, random.between(0.25, 0.9));
    cairo_set_line_width(cairo, width_mm * random.between(0.6, 1.3));
    cairo_stroke(cairo);
  }
}

void rule_lines(Face& face, const EnvelopePlan& plan, Random& random) {
  MaskPainter rules{face.plane};
  const Polygon region = turned(grown(plan.paper_mm, 14), -plan.sheet.rule_deg);
  const Bounds b = bounds(region);
  for (double y = b.top + random.unit() * plan.sheet.rule_pitch_mm; y < b.bottom; y += plan.sheet.rule_pitch_mm)
    rules.stroke(turned(Polygon{{b.left, y}, {b.right, y}}, plan.sheet.rule_deg), random.between(0.16, 0.26), 0.8);
  cv::Mat mask = rules.coverage();
  mask *= random.between(0.35, 0.65);
  stain(face.colour, mask, reflectance(random.pick({0x7C93B8U, 0x8FA6C2U, 0xA59DA8U, 0x86A39AU})));
  if (random.chance(0.25)) {
    MaskPainter margin{face.plane};
    margin.stroke(turned(Polygon{{b.middle().x, b.top}, {b.middle().x, b.bottom}}, plan.sheet.rule_deg), 0.25, 0.55);
    stain(face.colour, margin.coverage(), reflectance(0xC86A6A));
  }
}

}  // namespace

void lay_paper(Face& face, const EnvelopePlan& plan, Random& random) {
  const cv::Size size = face.plane.size;
  const double ppm = face.plane.px_per_mm;
  const Paper paper = plan.sheet.paper;
  face.colour = cv::Mat(size, CV_32FC3, cv::Scalar(plan.sheet.colour[0], plan.sheet.colour[1], plan.sheet.colour[2]));
  face.opacity = cv::Mat(size, CV_32F, cv::Scalar(plan.sheet.opacity));
  MaskPainter cut{face.plane};
  cut.fill(plan.outline_mm);
  face.alpha = cut.coverage();
  {  // no cut or fold is quite straight
    cv::Mat soft = face.alpha.clone();
    soften(soft, 0.16 * ppm);
    const cv::Mat wander = noise(size, 6.0 * ppm, random) * 0.07 + noise(size, std::max(1.5, 0.5 * ppm), random) * 0.02;
    const float steep = 2.6F * static_cast<float>(0.16 * ppm);
    for (int y = 0; y < size.height; ++y) {
      float* a = face.alpha.ptr<float>(y);
      const float* s = soft.ptr<float>(y);
      const float* w = wander.ptr<float>(y);
      for (int x = 0; x < size.width; ++x)
        if (s[x] > 0.01F && s[x] < 0.99F) a[x] = std::clamp((s[x] - 0.5F + w[x]) * steep + 0.5F, 0.0F, 1.0F);
    }
  }

  const double rough = paper == Paper::kraft || paper == Paper::newsprint ? 1.7 : paper == Paper::glassine ? 0.5 : 1.0;
  multiply(face.colour, noise(size, 1.0, random), 0.016 * rough);
  multiply(face.colour, noise(size, std::max(2.0, 0.35 * ppm), random), 0.014 * rough);
  multiply(face.colour, noise(size, 1.6 * ppm, random), 0.012 * rough);
  // Cloudy formation, and unevenly browned.
  multiply(face.colour, noise(size, 9.0 * ppm, random), 0.02, {1.6F, 1.1F, 0.8F});

  const Bounds b{face.plane.origin_mm.x, face.plane.origin_mm.y, face.plane.origin_mm.x + size.width / ppm,
                 face.plane.origin_mm.y + size.height / ppm};
  const double area_cm2 = b.width() * b.height() / 100;
  MaskPainter fibres{face.plane};
  draw_fibres(fibres.cairo(), b, static_cast<int>(area_cm2 * (paper == Paper::kraft ? 16 : paper == Paper::newsprint ? 8 : 2)), 2.6, 0.07, random);
  cv::Mat fibre = fibres.coverage();
  fibre *= paper == Paper::kraft ? 0.32 : 0.2;
  stain(face.colour, fibre, reflectance(0x5A4632));
  if (paper == Paper::kraft) {
    MaskPainter pale{face.plane};
    draw_fibres(pale.cairo(), b, static_cast<int>(area_cm2 * 10), 3.0, 0.08, random);
    cv::Mat light = pale.coverage();
    light *= 0.22;
    tint(face.colour, light, reflectance(0xE0C8A0));
  }
  if (paper == Paper::cream && random.chance(0.35)) {  // laid paper
    MaskPainter ribs{face.plane};
    const double deg = random.pick({0.0, 90.0, 45.0});
    const Polygon all = turned(rectangle(b.left - 60, b.top - 60, b.right + 60, b.bottom + 60), 0);
    const Bounds wide = bounds(turned(all, -deg));
    for (double y = wide.top; y < wide.bottom; y += 0.85) ribs.stroke(turned(Polygon{{wide.left, y}, {wide.right, y}}, deg), 0.3, 0.05);
    for (double x = wide.left; x < wide.right; x += 24) ribs.stroke(turned(Polygon{{x, wide.top}, {x, wide.bottom}}, deg), 0.3, 0.09);
    stain(face.colour, ribs.coverage(), reflectance(0x8A7A58));
  }
  if (paper == Paper::lined) rule_lines(face, plan, random);

  // Toning creeps in from the edges.
  if (plan.sheet.toning > 0.02) {
    cv::Mat inside;
    face.alpha.convertTo(inside, CV_8U, 255);
    cv::threshold(inside, inside, 127, 255, cv::THRESH_BINARY);
    cv::Mat distance;
    cv::distanceTransform(inside, distance, cv::DIST_L2, 3);
    const cv::Mat wobble = noise(size, 5.0 * ppm, random);
    const auto reach = static_cast<float>(random.between(1.5, 7.0) * ppm);
    const auto strength = static_cast<float>(plan.sheet.toning);
    for (int y = 0; y < size.height; ++y) {
      float* d = distance.ptr<float>(y);
      const float* w = wobble.ptr<float>(y);
      for (int x = 0; x < size.width; ++x) d[x] = strength * std::exp(-d[x] / (reach * std::exp(0.3F * w[x]))) * std::clamp(0.6F + 0.3F * w[x], 0.0F, 1.0F);
    }
    stain(face.colour, distance, reflectance(0xB08A58));
  }

  // Where a strip lies over the face the paper is double: a little brighter, and it hides rules and print beneath.
  for (const Flap& flap : plan.flaps) {
    MaskPainter strip{face.plane};
    strip.fill(flap.area_mm);
    cv::Mat mask = strip.coverage();
    const auto brighter = static_cast<float>(random.between(-0.045, 0.05));
    if (paper == Paper::glassine) {
      cv::Mat more = mask * 0.22;
      face.opacity += more;
      cv::min(face.opacity, 1.0, face.opacity);
    }
    const auto warmer = static_cast<float>(random.between(-0.03, 0.03));
    multiply(face.colour, mask, brighter, {1.0F - warmer * 10, 1.0F, 1.0F + warmer * 10});
  }
  // Soiling from fingers and years.
  for (int i = random.whole(0, 3); i > 0; --i) {
    MaskPainter smudge{face.plane};
    const Point at{random.between(b.left, b.right), random.between(b.top, b.bottom)};
    smudge.fill(circle(at, random.between(2, 8)), random.between(0.02, 0.1));
    cv::Mat mask = smudge.coverage();
    soften(mask, random.between(1.5, 4.0) * ppm);
    stain(face.colour, mask, reflectance(0x4A4238));
  }
}

void raise_relief(Face& face, const EnvelopePlan& plan, Random& random) {
  const cv::Size size = face.plane.size;
  const double ppm = face.plane.px_per_mm;
  face.height = noise(size, 16 * ppm, random) * 0.15;
  face.height += noise(size, 5 * ppm, random) * 0.035;
  face.height += noise(size, std::max(2.0, 0.5 * ppm), random) * (plan.sheet.paper == Paper::kraft ? 0.006 : 0.004);

  // The insect within lifts the paper.
  MaskPainter body{face.plane};
  body.fill(circle(plan.bulge_at_mm, plan.insect_mm * 0.42));
  const Point axis = turned(Point{plan.insect_mm * 0.35, 0}, plan.insect_deg + 90);
  body.stroke({plan.bulge_at_mm - axis, plan.bulge_at_mm + axis}, 5.0, 1.0);
  cv::Mat bulge = body.coverage();
  soften(bulge, plan.insect_mm * 0.16 * ppm);
  face.height += bulge * plan.bulge_mm;

  // The strip folded over is a step one paper thick, sharp on its free edge, its own shadow beneath.
  for (const Flap& flap : plan.flaps) {
    MaskPainter strip{face.plane};
    strip.fill(flap.area_mm);
    cv::Mat step = strip.coverage();
    soften(step, 0.12 * ppm);
    cv::Mat lift = strip.coverage();
    soften(lift, 1.6 * ppm);
    face.height += step * random.between(0.08, 0.2) + lift * random.between(0.1, 0.6);
    MaskPainter gap{face.plane};
    gap.stroke({flap.edge_from_mm, flap.edge_to_mm}, random.between(0.1, 0.2), random.between(0.3, 0.75));
    cv::Mat dark = gap.coverage();
    soften(dark, random.between(0.04, 0.12) * ppm);
    cv::multiply(dark, cv::max(cv::min(noise(size, 9 * ppm, random) * 0.35 + 0.75, 1.1), 0.1), dark);
    stain(face.colour, dark, reflectance(0x6A5C48));
  }

  // Creases: ordinary folds, and light ones from handling.
  std::vector<Polygon> creases = plan.folds_mm;
  const Bounds b = bounds(plan.paper_mm);
  for (int i = random.whole(0, 4); i > 0; --i) {
    const Point from{random.between(b.left, b.right), random.between(b.top, b.bottom)};
    const Point along = turned(Point{random.between(8, 45), 0}, random.between(0, 360));
    creases.push_back({from, from + along * 0.5 + turned(unit(along), 90) * random.normal(0, 0.6), from + along});
  }
  MaskPainter ridge{face.plane};
  MaskPainter worn{face.plane};
  for (const Polygon& crease : creases) {
    ridge.stroke(crease, 0.35, random.between(0.3, 1.0));
    worn.stroke(crease, 0.12, random.between(0.1, 0.4));
  }
  cv::Mat up = ridge.coverage();
  soften(up, 0.22 * ppm);
  face.height += up * random.between(-0.16, 0.16);
  cv::Mat dirt = worn.coverage();
  cv::multiply(dirt, noise(size, 1.2 * ppm, random) * 0.3 + 0.6, dirt);
  if (random.chance(0.6)) stain(face.colour, cv::max(dirt, 0), reflectance(0x7A6850));
  else tint(face.colour, cv::max(dirt, 0), cv::Vec3f{0.82F, 0.85F, 0.87F});

  // The folded edge is rounded.
  cv::Mat edge = face.alpha.clone();
  soften(edge, 0.16 * ppm);
  face.height += edge * 0.16;
}

void shade(Face& face, Point light) {
  cv::Mat dx;
  cv::Mat dy;
  const double per_mm = face.plane.px_per_mm / 8.0;
  cv::Sobel(face.height, dx, CV_32F, 1, 0, 3, per_mm);
  cv::Sobel(face.height, dy, CV_32F, 0, 1, 3, per_mm);
  const auto lx = static_cast<float>(light.x);
  const auto ly = static_cast<float>(light.y);
  for (int y = 0; y < face.colour.rows; ++y) {
    cv::Vec3f* p = face.colour.ptr<cv::Vec3f>(y);
    const float* gx = dx.ptr<float>(y);
    const float* gy = dy.ptr<float>(y);
    for (int x = 0; x < face.colour.cols; ++x) {
      // A slope rising away from the lamp turns its face to it.
      const float slope = -(gx[x] * lx + gy[x] * ly);
      const float lit = slope > 0 ? 1.0F + 0.45F * std::tanh(slope / 0.45F) : 1.0F + 0.6F * std::tanh(slope / 0.6F);
      p[x] *= lit;
    }
  }
}

}  // namespace papillote::samples
