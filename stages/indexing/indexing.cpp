#include "stages/indexing/indexing.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace papillote::indexing {
namespace {

constexpr double kSlipReach_mm = 40;  // capture card reference: the nearest envelope within 40 mm wins
constexpr double kTie_mm = 2;         // nearer together than this is "equally near"

// Distance from a point to a polygon in px, 0 inside it.
double distance_px(const Point& point, const Polygon& polygon) {
  if (polygon.size() < 3) return std::numeric_limits<double>::infinity();
  std::vector<cv::Point2f> outline;
  outline.reserve(polygon.size());
  for (const Point& p : polygon) outline.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  const double signed_px =
      cv::pointPolygonTest(outline, cv::Point2f(static_cast<float>(point.x), static_cast<float>(point.y)), true);
  return std::max(0.0, -signed_px);
}

// Corners renamed so that the first one is the upper left of the upright text.
Crop turned(const Crop& crop, int turned_deg) {
  Crop out = crop;
  const int steps = ((turned_deg / 90) % 4 + 4) % 4;
  // Turning the cut-out clockwise by a quarter brings its lower left corner to the upper left.
  for (int i = 0; i < 4; ++i) out.quad_px[static_cast<std::size_t>(i)] = crop.quad_px[static_cast<std::size_t>((i - steps + 4) % 4)];
  if (steps % 2 == 1) std::swap(out.width_px, out.height_px);
  return out;
}

template <class T>
T value_or_default(const Each<T>& each, std::size_t i) {
  return i < each.size() && each[i].ok() ? each[i].value() : T{};
}

void give_slips(const Calibration& calibration, std::vector<IndexRecord>& records) {
  // Without a scale a slip only counts when its code lies on the envelope.
  const double px_per_mm = calibration.px_per_mm.value_or(0);
  const double reach_px = px_per_mm > 0 ? kSlipReach_mm * px_per_mm : 0;
  const double tie_px = px_per_mm > 0 ? kTie_mm * px_per_mm : 0;
  for (const SeenCode& slip : calibration.slips) {
    const Point centre = middle_of(slip.quad_px);
    std::vector<std::pair<double, std::size_t>> near;
    for (std::size_t i = 0; i < records.size(); ++i) {
      const double away = distance_px(centre, records[i].outline.polygon_px);
      if (away <= reach_px) near.emplace_back(away, i);
    }
    if (near.empty()) continue;
    std::sort(near.begin(), near.end());
    if (near.size() > 1 && near[1].first - near[0].first < tie_px) {
      for (const auto& [away, i] : near)
        if (away - near[0].first < tie_px)
          records[i].slip_doubt = "slip " + slip.text + " lies equally near to another envelope: decide which one it belongs to";
      continue;
    }
    IndexRecord& winner = records[near[0].second];
    if (winner.catalogue_number.empty()) {
      winner.catalogue_number = slip.text;
    } else if (winner.catalogue_number != slip.text) {
      winner.slip_doubt = "two slips lie by it: " + winner.catalogue_number + " and " + slip.text;
    }
  }
}

}  // namespace

Result<PhotoIndex> index_rows(const Photo& photo, const Calibration& calibration, const std::vector<EnvelopeOutline>& outlines,
                              const Each<Annotation>& annotations, const Each<Interpretation>& interpretations,
                              const Each<Condition>& conditions, const Each<Triage>& triages) {
  PhotoIndex index{photo, calibration, {}};
  index.envelopes.reserve(outlines.size());
  for (std::size_t i = 0; i < outlines.size(); ++i) {
    IndexRecord record;
    record.outline = outlines[i];
    record.annotation = value_or_default(annotations, i);
    record.interpretation = value_or_default(interpretations, i);
    record.condition = value_or_default(conditions, i);
    if (i < conditions.size() && !conditions[i].ok()) {
      record.condition.judged = false;
      record.condition.why_not = conditions[i].failure().reason;
    }
    record.triage = value_or_default(triages, i);
    record.outline.crop = turned(record.outline.crop, record.annotation.turned_deg);
    if (record.outline.size_mm && record.annotation.turned_deg % 180 != 0)
      std::swap(record.outline.size_mm->x, record.outline.size_mm->y);
    index.envelopes.push_back(std::move(record));
  }
  give_slips(calibration, index.envelopes);
  return index;
}

}  // namespace papillote::indexing
