#include "scene.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "face.h"
#include "placing.h"
#include "props.h"

namespace papillote::samples {
namespace {

constexpr double kMargin_mm = 14;  // of table drawn beyond the frame

Polygon prop_outline(double width, double height, Point at, double deg) { return moved(turned(rectangle(0, 0, width, height), deg), at); }

Polygon with_parts(const EnvelopePlan& plan) {
  Polygon all = plan.outline_mm;
  for (const Damage& d : plan.damages) all.insert(all.end(), d.region_mm.begin(), d.region_mm.end());
  return convex_hull(all);
}

double choose_turn(const EnvelopePlan& plan, Random& random) {
  switch (random.weighted<int>({{0, 45}, {1, 25}, {2, 30}})) {
    case 0: return -plan.upright_deg + random.normal(0, 5);
    case 1: return -plan.upright_deg + random.pick({90.0, -90.0, 180.0}) + random.normal(0, 5);
    default: return random.between(0, 360);
  }
}

bool free_of(const Polygon& hull, const std::vector<Polygon>& taken) {
  const Bounds b = bounds(hull);
  return std::none_of(taken.begin(), taken.end(), [&](const Polygon& t) {
    const Bounds o = bounds(t);
    return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom && overlap(hull, t);
  });
}

bool in_frame(const Polygon& hull, const SceneWishes& w, double margin) {
  const Bounds b = bounds(hull);
  return b.left > margin && b.top > margin && b.right < w.width_mm - margin && b.bottom < w.height_mm - margin;
}

std::vector<Polygon> prop_places(const Scene& scene) {
  std::vector<Polygon> taken;
  if (scene.wishes.card) taken.push_back(grown(prop_outline(110, 60, scene.card_at_mm, scene.card_deg), 3));
  if (scene.wishes.label) taken.push_back(grown(prop_outline(80, 30, scene.label_at_mm, scene.label_deg), 3));
  if (scene.wishes.ruler) taken.push_back(grown(prop_outline(168, 22, scene.ruler_at_mm, scene.ruler_deg), 3));
  return taken;
}

void lay_props(Scene& scene, Random& random) {
  const SceneWishes& w = scene.wishes;
  scene.card_deg = random.normal(0, 1.5) + (random.chance(0.15) ? 180 : 0);
  const bool left = random.chance(0.6);
  const bool top = random.chance(0.7);
  const Point middle{left ? 66.0 : w.width_mm - 66, top ? 41.0 : w.height_mm - 41};
  scene.card_at_mm = middle + turned(Point{-55, -30}, scene.card_deg);
  scene.label_deg = random.normal(0, 3);
  const Point label_middle{left ? w.width_mm - 52 : 52.0, top ? 26.0 : w.height_mm - 26};
  scene.label_at_mm = label_middle + turned(Point{-40, -15}, scene.label_deg);
  scene.ruler_deg = random.normal(0, 2);
  scene.ruler_at_mm = {w.width_mm / 2 - 84, top ? w.height_mm - 32 : 10};
}

void lay_slip(Scene& scene, Lying& lying, int number, std::vector<Polygon>& taken, Random& random) {
  if (!random.chance(scene.wishes.slips)) return;
  for (int attempt = 0; attempt < 40; ++attempt) {
    const double deg = random.normal(0, 8);
    const Bounds b = bounds(lying.on_table(lying.plan.outline_mm));
    const Point at{random.between(b.left - 30, b.right), random.chance(0.5) ? b.bottom + random.between(1, 4) : b.top - random.between(15, 18)};
    const Polygon hull = prop_outline(30, 14, at, deg);
    if (!in_frame(hull, scene.wishes, 3) || !free_of(grown(hull, 0.5), taken)) continue;
    lying.slip = "PLT-" + std::to_string(scene.tin.number) + "-" + std::to_string(1000 + scene.sheet * 50 + number);
    lying.slip_at_mm = at;
    lying.slip_deg = deg;
    lying.slip_data_matrix = random.chance(0.7);
    taken.push_back(grown(hull, 1));
    return;
  }
}

// Pushes an envelope towards its nearest neighbour until they touch, or a little beyond.
void push_to_neighbour(const Scene& scene, Lying& lying, const std::vector<Polygon>& taken, Random& random) {
  const Polygon outline = convex_hull(lying.plan.outline_mm);
  const Polygon whole = with_parts(lying.plan);
  const auto middle = [](const Lying& l) { return centroid(l.on_table(l.plan.paper_mm)); };
  const Lying* nearest = &scene.envelopes.front();
  for (const Lying& other : scene.envelopes)
    if (length(middle(other) - middle(lying)) < length(middle(*nearest) - middle(lying))) nearest = &other;
  const Point step = unit(middle(*nearest) - middle(lying)) * 0.25;
  const Polygon target = grown(nearest->on_table(convex_hull(nearest->plan.outline_mm)), 0.3);
  Lying pushed = lying;
  for (int k = 0; k < 400; ++k) {
    pushed.at_mm += step;
    if (!in_frame(pushed.on_table(whole), scene.wishes, 4)) return;
    if (free_of(pushed.on_table(outline), taken)) continue;
    if (!overlap(pushed.on_table(outline), target)) return;  // something else lies between
    pushed.at_mm += unit(step) * (random.chance(0.5) ? -0.2 : random.between(0.0, 2.5));
    lying = pushed;
    return;
  }
}

// False when there is no room for it. `number` counts those that lie.
bool lay_envelope(Scene& scene, EnvelopePlan plan, bool tidy, int& number, std::vector<Polygon>& taken, Random& random) {
  const SceneWishes& w = scene.wishes;
  Lying lying{std::move(plan), {}, 0, "", {}, 0, true};
  const Polygon whole = with_parts(lying.plan);
  // Of many places where it could lie, the one nearest to the upper left: so a sheet fills up as a curator fills it.
  double best = 1e18;
  Lying chosen;
  int places = 0;
  const double margin = random.chance(w.cut_by_frame) ? -25.0 : 4.0;
  for (int attempt = 0; attempt < 500 && places < (tidy ? 40 : 1); ++attempt) {
    lying.turned_deg = choose_turn(lying.plan, random);
    const double x = random.between(5, w.width_mm - 5);
    const double y = random.between(5, w.height_mm - 5);
    lying.at_mm = Point{x, y} - turned(centroid(whole), lying.turned_deg);
    const Polygon there = lying.on_table(whole);
    if (!in_frame(there, w, margin) || !free_of(grown(there, random.between(1.5, 4.5)), taken)) continue;
    ++places;
    const Bounds b = bounds(there);
    const double order = b.bottom + 0.3 * b.right;
    if (order >= best) continue;
    best = order;
    chosen = lying;
  }
  if (places == 0) return false;
  if (random.chance(w.touching) && !scene.envelopes.empty()) push_to_neighbour(scene, chosen, taken, random);
  taken.push_back(chosen.on_table(whole));
  lay_slip(scene, chosen, ++number, taken, random);
  scene.envelopes.push_back(std::move(chosen));
  return true;
}

void lay_sheet(const FontShelf& shelf, Scene& scene, std::vector<Polygon>& taken, const PlanWishes& base, Random& random) {
  const SceneWishes& w = scene.wishes;
  const bool tidy = random.chance(0.75);
  int number = 0;
  for (int i = 0; i < w.envelopes; ++i) {
    PlanWishes wishes = base;
    if (random.chance(w.like_table) && wishes.paper_colour) wishes.paper = wishes.paper.value_or(Paper::cream);
    else wishes.paper_colour.reset();
    lay_envelope(scene, plan_envelope(shelf, scene.tin, w.name + "-" + std::to_string(i + 1), wishes, random.branch()), tidy, number, taken, random);
  }
}

// Envelopes stand in the tin like cards in a file, leaning back: each covers part of the one behind it.
void lay_in_tin(const FontShelf& shelf, Scene& scene, const Polygon& opening, PlanWishes wishes, Random& random) {
  const Bounds b = bounds(opening);
  const int columns = 3;
  wishes.largest_mm = std::min(95.0, b.width() / columns - 6);
  wishes.smallest_mm = 0.6 * wishes.largest_mm;
  const int rows = (scene.wishes.envelopes + columns - 1) / columns;
  int number = 0;
  for (int column = 0; column < columns; ++column) {
    const double middle = b.left + b.width() * (column + 0.5) / columns;
    const double step = (b.height() - 62) / rows;
    for (int row = 0; row < rows && number < scene.wishes.envelopes; ++row) {
      for (int attempt = 0; attempt < 12; ++attempt) {
        Lying lying{plan_envelope(shelf, scene.tin, scene.wishes.name + "-" + std::to_string(number + 1), wishes, random.branch()), {}, 0, "", {}, 0, true};
        lying.turned_deg = -lying.plan.upright_deg + random.normal(0, 5) + (random.chance(0.15) ? 180 : 0);
        const Bounds own = bounds(turned(lying.plan.outline_mm, lying.turned_deg));
        if (own.width() > b.width() / columns + 2) continue;
        const double top = b.top + 6 + step * row + random.normal(0, 0.12 * step);
        lying.at_mm = {middle - own.middle().x + random.normal(0, 3), std::max(b.top + 3, top) - own.top};
        const Bounds there = bounds(lying.on_table(lying.plan.outline_mm));
        if (there.bottom > b.bottom - 2 || there.left < b.left + 1 || there.right > b.right - 1) continue;
        scene.envelopes.push_back(std::move(lying));
        ++number;
        break;
      }
    }
  }
}

void lay_over(cv::Mat& canvas, const Face& face, const Lying& lying, double ppm, Point canvas_origin, Point light, double lift_mm) {
  const double rad = lying.turned_deg * CV_PI / 180;
  const double cosine = std::cos(rad);
  const double sine = std::sin(rad);
  const auto to_canvas = [&](Point face_px) {
    const Point mm = face.plane.origin_mm + face_px / ppm;
    return (lying.at_mm + turned(mm, lying.turned_deg) - canvas_origin) * ppm;
  };
  Polygon corners;
  for (const Point& p : {Point{0, 0}, Point(face.plane.size.width, 0), Point(face.plane.size.width, face.plane.size.height), Point(0, face.plane.size.height)})
    corners.push_back(to_canvas(p));
  const Bounds b = bounds(corners);
  const int margin = cvRound(9 * ppm);
  const cv::Rect area = cv::Rect(cvFloor(b.left) - margin, cvFloor(b.top) - margin, cvCeil(b.width()) + 2 * margin, cvCeil(b.height()) + 2 * margin) &
                        cv::Rect({0, 0}, canvas.size());
  if (area.empty()) return;
  const Point origin = to_canvas({0.5, 0.5}) - Point(area.x + 0.5, area.y + 0.5);
  const cv::Matx23d warp(cosine, -sine, origin.x, sine, cosine, origin.y);
  cv::Mat colour;
  cv::Mat alpha;
  cv::Mat opacity;
  cv::warpAffine(face.colour, colour, warp, area.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::warpAffine(face.alpha, alpha, warp, area.size(), cv::INTER_LINEAR, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::warpAffine(face.opacity, opacity, warp, area.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  // Shadows: a narrow dark one where paper meets table, a wide soft one away from the lamp.
  const auto cast = [&](double away_mm, double blur_mm) {
    cv::Mat shadow;
    const cv::Matx23d shift(1, 0, -light.x * away_mm * ppm, 0, 1, -light.y * away_mm * ppm);
    cv::warpAffine(alpha, shadow, shift, alpha.size(), cv::INTER_LINEAR, cv::BORDER_CONSTANT, cv::Scalar(0));
    soften(shadow, blur_mm * ppm);
    return shadow;
  };
  const cv::Mat close = cast(0.25 + 0.2 * lift_mm, 0.3);
  const cv::Mat wide = cast(0.8 + 1.0 * lift_mm, 1.0 + 0.9 * lift_mm);
  cv::Mat under = canvas(area);
  for (int y = 0; y < area.height; ++y) {
    cv::Vec3f* to = under.ptr<cv::Vec3f>(y);
    for (int x = 0; x < area.width; ++x) {
      const float a = alpha.at<float>(y, x);
      const cv::Vec3f table = to[x] * ((1 - 0.42F * close.at<float>(y, x)) * (1 - 0.3F * wide.at<float>(y, x)));
      const float op = opacity.at<float>(y, x);
      to[x] = table * (1 - a) + (colour.at<cv::Vec3f>(y, x) * op + to[x] * (0.92F * (1 - op))) * a;
    }
  }
}

void lay_prop(cv::Mat& canvas, const Prop& prop, Point at, double deg, double ppm, Point canvas_origin, Point light) {
  Face face;
  face.plane = Plane::around({0, 0, prop.width_mm, prop.height_mm}, 0, ppm);
  // One pixel of nothing around it, so that its edge is soft when turned.
  cv::copyMakeBorder(prop.colour, face.colour, 2, 2, 2, 2, cv::BORDER_REPLICATE);
  face.alpha = cv::Mat::zeros(face.colour.size(), CV_32F);
  face.alpha(cv::Rect(2, 2, prop.colour.cols, prop.colour.rows)).setTo(1);
  face.opacity = cv::Mat(face.colour.size(), CV_32F, cv::Scalar(1));
  face.plane.origin_mm = {-2 / ppm, -2 / ppm};
  face.plane.size = face.colour.size();
  Lying lying;
  lying.at_mm = at;
  lying.turned_deg = deg;
  lay_over(canvas, face, lying, ppm, canvas_origin, light, 0.1);
}

std::string two_digits(int n) { return (n < 10 ? "0" : "") + std::to_string(n); }

Polygon tin_opening(const SceneWishes& w) { return rectangle(20, 18, w.width_mm - 20, w.height_mm - 18); }

// An empty table under its lamp.
Scene begun(const SceneWishes& wishes, const Tin& tin, int sheet, Random& random) {
  Scene scene;
  scene.wishes = wishes;
  scene.tin = tin;
  scene.sheet = sheet;
  scene.seed = random.next();
  scene.light = unit(Point{random.normal(0, 1), -std::abs(random.normal(0.8, 0.4))}) * random.between(0.6, 1.2);
  return scene;
}

}  // namespace

std::string label_code(const Scene& scene) {
  std::string code = "tin=" + two_digits(scene.tin.number) + ";sheet=" + std::to_string(scene.sheet);
  if (scene.back) code += ";side=back";
  return code;
}

Scene lay_out(const FontShelf& shelf, const SceneWishes& wishes, const Tin& tin, int sheet, Random random) {
  Scene scene = begun(wishes, tin, sheet, random);
  std::vector<Polygon> taken;
  PlanWishes plans;
  plans.damaged = wishes.damaged;
  plans.broken_insects = wishes.broken_insects;
  plans.largest_mm = wishes.largest_mm;
  plans.smallest_mm = std::min(plans.smallest_mm, 0.5 * wishes.largest_mm);
  plans.paper = wishes.paper;
  if (wishes.like_table > 0) {
    Random look{scene.seed};
    cv::Mat patch = lay_table(wishes.table, {64, 64}, 10, look);
    const cv::Scalar mean = cv::mean(patch);
    const cv::Vec3f colour(static_cast<float>(mean[0]), static_cast<float>(mean[1]), static_cast<float>(mean[2]));
    constexpr double kDarkestPaper = 0.18;  // brown wrapping paper; none is as dark as velvet
    if (luminance(colour) >= kDarkestPaper) plans.paper_colour = colour;
  }
  if (wishes.open_tin) {
    lay_in_tin(shelf, scene, tin_opening(wishes), plans, random);
  } else {
    lay_props(scene, random);
    taken = prop_places(scene);
    lay_sheet(shelf, scene, taken, plans, random);
  }
  scene.camera = Camera::above(wishes.size_px, wishes.width_mm, wishes.height_mm, random);
  if (wishes.blur_px > 0) {
    scene.camera.blur_px = wishes.blur_px;
    scene.camera.sharpening = 0;
  }
  return scene;
}

Scene laid_again(const SceneWishes& wishes, const Tin& tin, int sheet, std::vector<EnvelopePlan>& waiting, Random random) {
  Scene scene = begun(wishes, tin, sheet, random);
  lay_props(scene, random);
  std::vector<Polygon> taken = prop_places(scene);
  const bool tidy = random.chance(0.75);
  int number = 0;
  std::vector<EnvelopePlan> later;
  for (EnvelopePlan& plan : waiting)
    if (number >= wishes.envelopes || !lay_envelope(scene, plan, tidy, number, taken, random)) later.push_back(std::move(plan));
  waiting = std::move(later);
  scene.camera = Camera::above(wishes.size_px, wishes.width_mm, wishes.height_mm, random);
  return scene;
}

Scene turned_over(const FontShelf& shelf, const Scene& front, const std::string& name, Random random) {
  Scene scene = front;
  scene.wishes.name = name;
  scene.back = true;
  std::vector<Polygon> taken = prop_places(scene);
  for (const Lying& lying : scene.envelopes)
    if (!lying.slip.empty()) taken.push_back(prop_outline(30, 14, lying.slip_at_mm, lying.slip_deg));
  for (Lying& lying : scene.envelopes) {
    const Point before = bounds(lying.on_table(lying.plan.paper_mm)).middle();
    lying.plan = plan_back(shelf, scene.tin, lying.plan, random.branch());
    lying.turned_deg = -lying.turned_deg;
    lying.at_mm += before - bounds(lying.on_table(lying.plan.paper_mm)).middle();
    // Turned over it would often lie on its neighbour: it is moved aside.
    const Polygon whole = with_parts(lying.plan);
    const Point stood = lying.at_mm;
    for (double aside = 0; aside < 45; aside += 0.5) {
      lying.at_mm = stood + turned(Point{aside, 0}, random.between(0, 360));
      if (in_frame(lying.on_table(whole), scene.wishes, 3) && free_of(grown(lying.on_table(whole), 0.5), taken)) break;
      if (aside > 44) lying.at_mm = stood;
    }
    taken.push_back(lying.on_table(whole));
  }
  scene.camera = Camera::above(front.wishes.size_px, front.wishes.width_mm, front.wishes.height_mm, random);
  return scene;
}

cv::Mat take(const FontShelf& shelf, const Scene& scene) {
  Random random{scene.seed};
  const SceneWishes& w = scene.wishes;
  const double ppm = 1.12 * scene.camera.px_per_mm_at({w.width_mm / 2, w.height_mm / 2});
  const Point origin{-kMargin_mm, -kMargin_mm};
  const cv::Size size(cvCeil((w.width_mm + 2 * kMargin_mm) * ppm), cvCeil((w.height_mm + 2 * kMargin_mm) * ppm));
  cv::Mat canvas;
  if (w.open_tin) {
    const Bounds b = bounds(tin_opening(w));
    canvas = lay_tin(size, ppm, cv::Rect(cvRound((b.left - origin.x) * ppm), cvRound((b.top - origin.y) * ppm), cvRound(b.width() * ppm), cvRound(b.height() * ppm)), random);
  } else {
    canvas = lay_table(w.table, size, ppm, random);
    const std::string words = "TIN " + two_digits(scene.tin.number) + " / sheet " + std::to_string(scene.sheet) + (scene.back ? " / back" : "");
    const std::string period = std::to_string(scene.tin.first_year) + "\u2013" + std::to_string(scene.tin.last_year);
    if (w.card) lay_prop(canvas, capture_card(shelf, ppm), scene.card_at_mm, scene.card_deg, ppm, origin, scene.light);
    if (w.label) lay_prop(canvas, sheet_label(shelf, words, period, label_code(scene), ppm), scene.label_at_mm, scene.label_deg, ppm, origin, scene.light);
    if (w.ruler) lay_prop(canvas, ruler(shelf, 160, ppm), scene.ruler_at_mm, scene.ruler_deg, ppm, origin, scene.light);
  }
  for (const Lying& lying : scene.envelopes) {
    const Face face = draw_face(shelf, lying.plan, ppm, turned(scene.light, -lying.turned_deg));
    lay_over(canvas, face, lying, ppm, origin, scene.light, w.open_tin ? 2.0 : 0.3 + lying.plan.bulge_mm * 0.4);
    if (!lying.slip.empty())
      lay_prop(canvas, identifier_slip(shelf, lying.slip, lying.slip_data_matrix, ppm), lying.slip_at_mm, lying.slip_deg, ppm, origin, scene.light);
  }
  return photograph(scene.camera, canvas, origin, ppm, random);
}

}  // namespace papillote::samples
