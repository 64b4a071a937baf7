#include "stages/condition/condition.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/detector.h"
#include "stages/condition/surface.h"

namespace papillote::condition {
namespace detectors {
const std::vector<const Detector*>& all();
}

namespace {

constexpr double kPxPerMm = 8;       // a hole of 1 mm is 8 px across: enough to measure, quick to look at
constexpr double kMargin_mm = 10;    // what sticks out or lies beside shows within this
constexpr double kAssumedSide_mm = 70;  // of an envelope without a scale, for kernel sizes only

std::vector<cv::Point> as_points(const Polygon& polygon) {
  std::vector<cv::Point> points;
  points.reserve(polygon.size());
  for (const Point& p : polygon) points.emplace_back(cvRound(p.x), cvRound(p.y));
  return points;
}

void fill(cv::Mat& mask, const Polygon& polygon) {
  if (polygon.size() < 3) return;
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{as_points(polygon)}, cv::Scalar(255));
}

// The crop widened by the margin on all sides, at the view's own scale.
Crop widened(const Crop& crop, double width_units, double height_units, double margin_units, double px_per_unit) {
  const Point& a = crop.quad_px[0];
  const Point& b = crop.quad_px[1];
  const Point& d = crop.quad_px[3];
  const Point right{(b.x - a.x) / width_units, (b.y - a.y) / width_units};
  const Point down{(d.x - a.x) / height_units, (d.y - a.y) / height_units};
  const auto at = [&](double u, double v) { return Point{a.x + right.x * u + down.x * v, a.y + right.y * u + down.y * v}; };
  const double m = margin_units;
  Crop wide;
  wide.quad_px = {at(-m, -m), at(width_units + m, -m), at(width_units + m, height_units + m), at(-m, height_units + m)};
  wide.width_px = std::max(8, cvRound((width_units + 2 * m) * px_per_unit));
  wide.height_px = std::max(8, cvRound((height_units + 2 * m) * px_per_unit));
  return wide;
}

// The table as it shows all over the photograph: what lies on it here and there is a small part of that.
std::vector<cv::Vec3f> table_of(std::span<const EnvelopeOutline> all, const Calibration& calibration, const image::Image& photo) {
  constexpr int kAcross = 44;
  const double step = std::max(photo.bgr.cols, photo.bgr.rows) / static_cast<double>(kAcross);
  const cv::Size grid(std::max(1, cvRound(photo.bgr.cols / step)), std::max(1, cvRound(photo.bgr.rows / step)));
  cv::Mat known = cv::Mat::zeros(grid, CV_8U);
  const auto mark = [&](const Polygon& polygon) {
    Polygon small;
    for (const Point& p : polygon) small.push_back({p.x / step - 0.5, p.y / step - 0.5});
    fill(known, small);
  };
  for (const EnvelopeOutline& envelope : all) mark(envelope.polygon_px);
  if (calibration.card_px) mark({calibration.card_px->begin(), calibration.card_px->end()});
  if (calibration.label_px) mark({calibration.label_px->begin(), calibration.label_px->end()});
  std::vector<cv::Vec3f> samples;
  for (int y = 0; y < grid.height; ++y)
    for (int x = 0; x < grid.width; ++x) {
      if (known.at<uchar>(y, x) != 0) continue;
      const int px = std::min(photo.bgr.cols - 1, static_cast<int>((x + 0.5) * step));
      const int py = std::min(photo.bgr.rows - 1, static_cast<int>((y + 0.5) * step));
      const cv::Vec3b& bgr = photo.bgr.at<cv::Vec3b>(py, px);
      cv::Vec3f coded;
      for (int c = 0; c < 3; ++c)
        coded[c] = static_cast<float>(bgr[c] / 255.0 * std::pow(std::clamp(calibration.gain_rgb[static_cast<std::size_t>(2 - c)], 0.25, 4.0), 1 / 2.2));
      samples.push_back(coded);
    }
  if (samples.empty()) return samples;
  cv::Mat row(1, static_cast<int>(samples.size()), CV_32FC3, samples.data());
  cv::Mat lab;
  cv::cvtColor(row, lab, cv::COLOR_BGR2Lab);
  lab.copyTo(row);
  return samples;
}

struct Prepared {
  View view;
  cv::Matx33d photo_from_view;
};

Prepared prepare(std::span<const EnvelopeOutline> all, std::size_t which, const LineLayout& written, const Calibration& calibration,
                 const image::Image& photo) {
  const EnvelopeOutline& envelope = all[which];
  const bool scaled = envelope.size_mm && envelope.size_mm->x > 1 && envelope.size_mm->y > 1;
  const double longest_px = std::max(envelope.crop.width_px, envelope.crop.height_px);
  const double unit_source_px = longest_px / kAssumedSide_mm;  // pixels per assumed millimetre without a scale
  const double width = scaled ? envelope.size_mm->x : envelope.crop.width_px / unit_source_px;
  const double height = scaled ? envelope.size_mm->y : envelope.crop.height_px / unit_source_px;
  // Never finer than the photograph itself.
  const double source_px_per_unit = longest_px / std::max(width, height);
  const double px_per_unit = std::min(kPxPerMm, source_px_per_unit);

  const Crop wide = widened(envelope.crop, width, height, kMargin_mm, px_per_unit);
  const cv::Matx33d view_from_photo = image::crop_from_photo(wide);
  Prepared prepared;
  View& view = prepared.view;
  prepared.photo_from_view = view_from_photo.inv();

  view.bgr = image::rectify(photo, wide);
  // Gains are for linear light; sRGB is close to a power of 2.2, and a gain to the power 1/2.2 does the same to coded values.
  std::vector<cv::Mat> channels;
  cv::split(view.bgr, channels);
  for (std::size_t c = 0; c < 3; ++c) channels[c] *= std::pow(std::clamp(calibration.gain_rgb[2 - c], 0.25, 4.0), 1 / 2.2);
  cv::merge(channels, view.bgr);
  cv::Mat scaled_bgr;
  view.bgr.convertTo(scaled_bgr, CV_32FC3, 1 / 255.0);
  cv::cvtColor(scaled_bgr, view.lab, cv::COLOR_BGR2Lab);

  view.paper = cv::Mat::zeros(view.bgr.size(), CV_8U);
  view.others = cv::Mat::zeros(view.bgr.size(), CV_8U);
  view.ink = cv::Mat::zeros(view.bgr.size(), CV_8U);
  view.outline = image::carried(envelope.polygon_px, view_from_photo);
  fill(view.paper, view.outline);
  for (std::size_t i = 0; i < all.size(); ++i)
    if (i != which) fill(view.others, image::carried(all[i].polygon_px, view_from_photo));
  const auto fill_quad = [&](const Quad& quad) { fill(view.others, image::carried({quad.begin(), quad.end()}, view_from_photo)); };
  if (calibration.card_px) fill_quad(*calibration.card_px);
  if (calibration.label_px) fill_quad(*calibration.label_px);
  for (const SeenCode& slip : calibration.slips) {
    fill_quad(slip.quad_px);
    // A slip that lies on the paper hides it.
    Polygon on_paper = image::carried({slip.quad_px.begin(), slip.quad_px.end()}, view_from_photo);
    fill(view.ink, on_paper);
  }
  for (const TextLine& line : written.lines) fill(view.ink, image::carried(line.polygon_px, view_from_photo));

  if (scaled) view.px_per_mm = px_per_unit;
  view.unit_px = px_per_unit;
  view.tone = paper_tone(view);
  view.density = density_above_tone(view);
  view.table_samples = table_of(all, calibration, photo);
  view.from_table = distance_from_table(view);
  cv::bitwise_or(view.others, foreign_objects(view), view.others);
  view.stray = stray_matter(view);
  view.shape = envelope.shape;
  view.material = written.paper;
  return prepared;
}

// Fragile without damage: what a curator would handle with more care.
std::vector<std::string> fragility_of(const View& view, const EnvelopeOutline& envelope) {
  std::vector<std::string> words;
  if (view.material == "glassine") words.emplace_back("glassine: thin and brittle with age");
  if (view.material == "newsprint") words.emplace_back("newsprint: acid paper, breaks at the folds");
  if (envelope.size_mm && std::max(envelope.size_mm->x, envelope.size_mm->y) > 100)
    words.emplace_back(fmt::format("large envelope of {:.0f} mm: large wings break first", std::max(envelope.size_mm->x, envelope.size_mm->y)));
  return words;
}

}  // namespace

Result<Condition> assess(std::span<const EnvelopeOutline> all, std::size_t which, const LineLayout& written,
                         const Calibration& calibration, const image::Image& photo) {
  Condition condition;
  if (calibration.quality.verdict == "retake") {
    condition.judged = false;
    condition.why_not = calibration.quality.reasons.empty() ? "the photograph should be taken again" : calibration.quality.reasons.front();
    return condition;
  }
  const Prepared prepared = prepare(all, which, written, calibration, photo);
  const cv::Rect frame(0, 0, photo.bgr.cols, photo.bgr.rows);
  for (const Detector* detector : detectors::all()) {
    for (Sign& sign : detector->look(prepared.view)) {
      Finding finding;
      finding.kind = detector->name;
      finding.severity = std::clamp(sign.severity, 1, 4);
      finding.confidence = std::clamp(sign.confidence, 0.0, 1.0);
      finding.polygon_px = image::carried(sign.region, prepared.photo_from_view);
      for (Point& p : finding.polygon_px) {
        p.x = std::clamp(p.x, 0.0, static_cast<double>(frame.width));
        p.y = std::clamp(p.y, 0.0, static_cast<double>(frame.height));
      }
      if (prepared.view.px_per_mm) finding.size_mm = sign.size_mm;
      finding.words = std::move(sign.words);
      condition.findings.push_back(std::move(finding));
    }
  }
  std::stable_sort(condition.findings.begin(), condition.findings.end(), [](const Finding& a, const Finding& b) {
    return a.severity * a.confidence > b.severity * b.confidence;
  });
  condition.fragility = fragility_of(prepared.view, all[which]);
  return condition;
}

std::string detectors_identity() {
  std::string identity;
  for (const Detector* detector : detectors::all()) identity += fmt::format("{}={};", detector->name, detector->version);
  return identity;
}

}  // namespace papillote::condition
