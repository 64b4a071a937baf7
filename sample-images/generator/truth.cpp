#include "truth.h"

#include <cmath>
#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>

#include "placing.h"

namespace papillote::samples {
namespace {

using nlohmann::ordered_json;

double tenth(double v) { return std::round(v * 10) / 10; }

ordered_json points(const Polygon& polygon) {
  ordered_json out = ordered_json::array();
  for (const Point& p : polygon) out.push_back({tenth(p.x), tenth(p.y)});
  return out;
}

Polygon in_photo(const Scene& scene, const Lying& lying, const Polygon& plan_mm) {
  Polygon out;
  for (const Point& p : lying.on_table(plan_mm)) out.push_back(scene.camera.photo_from_table(p));
  return out;
}

// Outlines of what lies on top of envelope i, in the photograph.
std::vector<Polygon> on_top(const Scene& scene, std::size_t i) {
  std::vector<Polygon> above;
  const Lying& own = scene.envelopes[i];
  const Polygon hull = own.on_table(convex_hull(own.plan.outline_mm));
  for (std::size_t k = i + 1; k < scene.envelopes.size(); ++k) {
    const Lying& other = scene.envelopes[k];
    if (overlap(hull, other.on_table(convex_hull(other.plan.outline_mm)))) above.push_back(in_photo(scene, other, other.plan.outline_mm));
  }
  return above;
}

struct Visible {
  Polygon polygon_px;  // the largest piece
  double fraction = 1;
};

// What the frame and the envelopes on top leave of an outline.
Visible visible(const Scene& scene, const Polygon& outline_px, const std::vector<Polygon>& above) {
  const Polygon full = outline_px;
  const Polygon frame = rectangle(0, 0, scene.camera.size_px.width, scene.camera.size_px.height);
  const Polygon framed = clipped(full, frame);
  if (framed.size() < 3) return {{}, 0};
  const double kept = area(framed) / area(full);
  if (above.empty()) return kept > 0.9999 ? Visible{full, 1} : Visible{framed, kept};
  // Eight steps to the pixel: the outline stays exact to a tenth of a pixel.
  const Bounds b = bounds(framed);
  constexpr int kBits = 3;
  const auto as_contour = [&](const Polygon& p) {
    std::vector<cv::Point> c;
    for (const Point& q : p) c.emplace_back(cvRound((q.x - b.left + 1.5) * (1 << kBits)), cvRound((q.y - b.top + 1.5) * (1 << kBits)));
    return std::vector<std::vector<cv::Point>>{c};
  };
  cv::Mat mask = cv::Mat::zeros(cvCeil(b.height()) + 5, cvCeil(b.width()) + 5, CV_8U);
  cv::fillPoly(mask, as_contour(framed), cv::Scalar(255), cv::LINE_8, kBits);
  const double whole = cv::countNonZero(mask);
  for (const Polygon& other : above) cv::fillPoly(mask, as_contour(other), cv::Scalar(0), cv::LINE_8, kBits);
  const double left = cv::countNonZero(mask);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  Visible seen{{}, kept * left / std::max(1.0, whole)};
  double largest = 0;
  for (const auto& contour : contours) {
    if (cv::contourArea(contour) <= largest) continue;
    largest = cv::contourArea(contour);
    std::vector<cv::Point> simple;
    cv::approxPolyDP(contour, simple, 0.8, true);
    seen.polygon_px.clear();
    for (const cv::Point& p : simple) seen.polygon_px.push_back({p.x - 1.0 + b.left, p.y - 1.0 + b.top});
  }
  return seen;
}

double thousandth(double v) { return std::round(v * 1000) / 1000; }

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}

}  // namespace

std::string truth_of(const Scene& scene, const std::string& file, const std::string& sha256) {
  ordered_json photo;
  const bool labelled = scene.wishes.label && !scene.wishes.open_tin;
  photo["file"] = file;
  photo["sha256"] = sha256;
  photo["size_px"] = {scene.camera.size_px.width, scene.camera.size_px.height};
  photo["tin"] = labelled ? ordered_json((scene.tin.number < 10 ? "0" : "") + std::to_string(scene.tin.number)) : ordered_json(nullptr);
  photo["sheet"] = labelled ? ordered_json(std::to_string(scene.sheet)) : ordered_json(nullptr);
  photo["side"] = scene.back ? "back" : "front";
  const Point middle{scene.wishes.width_mm / 2, scene.wishes.height_mm / 2};
  photo["px_per_mm"] = std::round(scene.camera.px_per_mm_at(middle) * 1000) / 1000;
  const bool has_card = scene.wishes.card && !scene.wishes.open_tin;
  photo["card"] = has_card;
  // The camera does not stand quite upright: the scale changes a little over the table.
  const Point card_middle = scene.card_at_mm + turned(Point{55, 30}, scene.card_deg);
  photo["px_per_mm_at_card"] = has_card ? ordered_json(thousandth(scene.camera.px_per_mm_at(card_middle))) : ordered_json(nullptr);
  photo["open_tin"] = scene.wishes.open_tin;
  photo["period"] = {scene.tin.first_year, scene.tin.last_year};
  const bool blurred = scene.camera.blur_px > 3;
  photo["quality"] = {{"verdict", blurred ? "retake" : "ok"}, {"reasons", blurred ? ordered_json{"blurred"} : ordered_json::array()}, {"blur_px", std::round(scene.camera.blur_px * 100) / 100}};
  photo["envelopes"] = ordered_json::array();
  for (std::size_t i = 0; i < scene.envelopes.size(); ++i) {
    const Lying& lying = scene.envelopes[i];
    const EnvelopePlan& plan = lying.plan;
    const std::vector<Polygon> above = on_top(scene, i);
    const Polygon full = in_photo(scene, lying, plan.outline_mm);
    const Visible seen = visible(scene, full, above);
    const bool framed = area(clipped(full, rectangle(0, 0, scene.camera.size_px.width, scene.camera.size_px.height))) < 0.9999 * area(full);
    ordered_json e;
    e["truth_id"] = plan.truth_id;
    e["slip"] = lying.slip.empty() ? ordered_json(nullptr) : ordered_json(lying.slip);
    e["shape"] = name(plan.shape);
    e["paper"] = name(plan.sheet.paper);
    e["polygon_px"] = points(seen.polygon_px);
    e["full_outline_px"] = points(full);
    e["visible_fraction"] = thousandth(seen.fraction);
    e["cut_by_frame"] = framed;
    const Polygon crop = plan.crop_mm();
    e["crop_px"] = points(in_photo(scene, lying, crop));
    e["size_mm"] = {tenth(length(crop[1] - crop[0])), tenth(length(crop[2] - crop[1]))};
    e["lines"] = ordered_json::array();
    std::string text;
    const auto add_line = [&](const PlacedLine& line, const char* kind) {
      const Polygon polygon = in_photo(scene, lying, line.polygon_mm);
      const double left = visible(scene, polygon, above).fraction;
      if (left < 0.05) return false;
      e["lines"].push_back({{"polygon_px", points(polygon)}, {"kind", kind}, {"text", line.text}});
      if (left < 0.999) e["lines"].back()["visible_fraction"] = thousandth(left);
      return left > 0.9;
    };
    for (const PlacedLine& line : plan.lines)
      if (add_line(line, name(line.set.lettering.kind))) text += (text.empty() ? "" : "\n") + line.text;
    for (const PlacedLine& line : plan.newsprint) add_line(line, "newsprint");
    e["text"] = text;
    const Facts& f = plan.annotation.facts;
    e["date"] = f.date ? ordered_json{{"verbatim", f.date->verbatim}, {"edtf", or_null(f.date->edtf)}, {"open_edtf", f.date->open_edtf}, {"true_edtf", f.date->true_edtf}} : ordered_json(nullptr);
    e["place"] = f.place ? ordered_json{{"verbatim", f.place->verbatim}, {"name", or_null(f.place->name)}, {"country", or_null(f.place->country_code)}, {"country_name", or_null(f.place->country)},
                                        {"lat", f.place->name ? ordered_json(f.place->lat_deg) : ordered_json(nullptr)},
                                        {"lon", f.place->name ? ordered_json(f.place->lon_deg) : ordered_json(nullptr)}} : ordered_json(nullptr);
    e["collector"] = or_null(f.collector);
    e["elevation_m"] = f.elevation ? ordered_json{tenth(f.elevation->min_m), tenth(f.elevation->max_m)} : ordered_json(nullptr);
    e["coordinates"] = f.coordinates ? ordered_json{{"verbatim", f.coordinates->verbatim}, {"lat", f.coordinates->lat_deg}, {"lon", f.coordinates->lon_deg}} : ordered_json(nullptr);
    e["taxon"] = or_null(f.taxon);
    e["sex"] = or_null(f.sex);
    e["type_status"] = or_null(f.type_status);
    e["number"] = or_null(f.number);
    e["bulge_mm"] = tenth(plan.bulge_mm);
    e["bulge_px"] = points(in_photo(scene, lying, circle(plan.bulge_at_mm, 0.42 * plan.insect_mm)));
    e["findings"] = ordered_json::array();
    for (const Damage& d : plan.damages) {
      const double left = visible(scene, in_photo(scene, lying, d.region_mm), above).fraction;
      if (left < 0.4) continue;
      ordered_json finding{{"kind", name(d.kind)}, {"severity", d.severity}, {"polygon_px", points(in_photo(scene, lying, d.region_mm))}};
      if (d.kind == DamageKind::hole) finding["diameter_mm"] = std::round(d.size_mm * 100) / 100;
      e["findings"].push_back(finding);
    }
    photo["envelopes"].push_back(e);
  }
  return ordered_json{{"photographs", {photo}}}.dump(1) + "\n";
}

}  // namespace papillote::samples
