#include "stages/condition/condition.h"

#include <algorithm>
#include <cstdint>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/bulge.h"
#include "stages/condition/detector.h"
#include "stages/condition/explained.h"
#include "stages/condition/marks.h"

namespace papillote::condition {
namespace detectors {
const std::vector<const Detector*>& all();
}

namespace {

constexpr double kMargin_mm = 10;          // what sticks out or lies beside shows within this
constexpr double kLeastConfidence = 0.05;  // what is said at all; what counts is surer (kSureFinding)

// Tissue-thin, half clear paper: most of the paper away from its edges is.
bool is_glassine(const View& view) {
  constexpr double kRim = 2;   // about millimetres, where the table shows beside the paper
  constexpr double kOdds = 1;  // log odds, between what most of glassine (2.7 and more) and of other papers (0.1 and less) have on rendered sheets
  const cv::Mat inner = view.depth_px > kRim * view.unit_px;
  const int all = cv::countNonZero(inner);
  return all > 0 && 2 * cv::countNonZero((view.odds[std::size_t(Damage::glassine)] > kOdds) & inner) > all;
}

// Fragile without damage: what a curator would handle with more care. The sign stands before the colon.
std::vector<std::string> fragility_of(const std::string& material, const EnvelopeOutline& envelope) {
  std::vector<std::string> words;
  if (material == "newsprint") words.emplace_back("newsprint: acid paper, breaks at the folds");
  if (envelope.size_mm && std::max(envelope.size_mm->x, envelope.size_mm->y) > 100)
    words.emplace_back(fmt::format("large: an envelope of {:.0f} mm, large wings break first", std::max(envelope.size_mm->x, envelope.size_mm->y)));
  return words;
}

// The same, of what has to be looked at closely.
std::optional<std::string> fragility_of(const View& view) {
  constexpr double kBulging = 12;  // three of four that are said to bulge do (models/damage/card.md)
  if (is_glassine(view)) return "glassine: thin, turns brittle and tears at a touch";
  if (lift_of(view) >= kBulging) return "bulging: a thick body or loose content presses from within";
  return std::nullopt;
}

// Share of the paper that is so bright in the photograph that nothing shows on it.
double burnt_out(const EnvelopeOutline& envelope, const image::Image& photo) {
  constexpr std::uint8_t kFull = 253;
  if (envelope.polygon_px.size() < 3) return 0;
  const cv::Rect box = image::box_of(envelope.polygon_px) & cv::Rect({}, photo.bgr.size());
  if (box.empty()) return 0;
  const cv::Mat paper = image::inside_of(envelope.polygon_px, box);
  cv::Mat burnt;
  cv::inRange(photo.bgr(box), cv::Scalar::all(kFull), cv::Scalar::all(255), burnt);
  return cv::countNonZero(burnt & paper) / std::max(1.0, double(cv::countNonZero(paper)));
}

// What of the envelope does not show, in words; empty when all of it does.
std::string not_shown(const EnvelopeOutline& envelope, const image::Image& photo) {
  constexpr double kWhole = 0.9;     // of the outline
  constexpr double kBurntOut = 0.2;  // of the paper
  if (const double burnt = burnt_out(envelope, photo); burnt > kBurntOut) return fmt::format("{:.0f} % of the paper is overexposed", 100 * burnt);
  if (envelope.cut_off) return "the photograph cuts it off";
  if (const double whole = area_of(envelope.whole_px); whole > 0 && area_of(envelope.polygon_px) < kWhole * whole)
    return fmt::format("another lies on {:.0f} % of it", 100 * (1 - area_of(envelope.polygon_px) / whole));
  return {};
}

cv::Mat closer(const image::Image& photo, const cv::Matx33d& photo_from_view, cv::Rect part, double finer) {
  const auto x0 = double(part.x), y0 = double(part.y), x1 = double(part.br().x), y1 = double(part.br().y);
  const Polygon corners = image::carried({{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}, photo_from_view);
  Quad quad;
  std::copy(corners.begin(), corners.end(), quad.begin());
  return image::rectify(photo, quad, cv::Size(cvRound(part.width * finer), cvRound(part.height * finer)));
}

// A second opinion is asked for where the net marks any damage, which knows no left and right.
bool marks_damage(const std::vector<cv::Mat>& maps) {
  constexpr auto kKinds = static_cast<std::ptrdiff_t>(Damage::glassine);  // of damage; the rest is the paper itself
  return maps.size() == kDamages &&
         std::any_of(maps.begin(), maps.begin() + kKinds, [](const cv::Mat& odds) { return cv::countNonZero(odds > kLeastOdds) > 0; });
}

// What all detectors see and are sure enough of, without what another kind explains.
std::vector<Seen> signs_of(const View& view) {
  std::vector<Seen> seen;
  for (const Detector* detector : detectors::all())
    for (Sign& sign : detector->look(view))
      if (sign.confidence >= kLeastConfidence) seen.push_back({detector, std::move(sign)});
  return without_explained(seen, view);
}

}  // namespace

Result<Condition> assess(const EnvelopeOutline& envelope, const LineLayout& written, const Calibration& calibration, const image::Image& photo,
                         const models::CropNet& net) {
  Condition condition;
  if (calibration.quality.verdict == "retake") {
    condition.judged = false;
    condition.why_not = calibration.quality.reasons.empty() ? "the photograph should be taken again" : calibration.quality.reasons.front();
    return condition;
  }
  condition.why_not = not_shown(envelope, photo);
  condition.fragility = fragility_of(written.paper, envelope);
  auto marks = net.look(envelope, calibration, photo, kMargin_mm, marks_damage);
  if (!marks) return marks.failure();
  if (marks->maps.size() != kDamages) {
    condition.judged = false;
    condition.why_not = "too small in the photograph";
    return condition;
  }
  View view;
  view.odds = marks->maps;
  cv::distanceTransform(marks->paper, view.depth_px, cv::DIST_L2, 3);
  const cv::Mat off_paper = ~marks->paper;
  cv::distanceTransform(off_paper, view.reach_px, cv::DIST_L2, 3);
  view.unit_px = marks->px_per_mm;
  if (envelope.size_mm) view.px_per_mm = marks->px_per_mm;
  view.picture = [&](cv::Rect part, double finer) { return closer(photo, marks->photo_from_map, part, finer); };
  for (const TextLine& line : written.lines)
    if (line.kind != LineKind::newsprint) view.writing.push_back(image::carried({line.quad_px.begin(), line.quad_px.end()}, marks->photo_from_map.inv()));
  if (auto words = fragility_of(view)) condition.fragility.push_back(std::move(*words));

  for (auto& [detector, sign] : signs_of(view)) {
    Finding finding;
    finding.kind = detector->name;
    finding.severity = std::clamp(sign.severity, 1, 4);
    finding.confidence = std::clamp(sign.confidence, 0.0, 1.0);
    finding.polygon_px = image::carried(sign.region, marks->photo_from_map);
    for (Point& p : finding.polygon_px) {
      p.x = std::clamp(p.x, 0.0, static_cast<double>(photo.bgr.cols));
      p.y = std::clamp(p.y, 0.0, static_cast<double>(photo.bgr.rows));
    }
    if (view.px_per_mm) finding.size_mm = sign.size_mm;
    finding.words = std::move(sign.words);
    condition.findings.push_back(std::move(finding));
  }
  std::stable_sort(condition.findings.begin(), condition.findings.end(), [](const Finding& a, const Finding& b) {
    return a.severity * a.confidence > b.severity * b.confidence;
  });
  return condition;
}

std::string detectors_identity() {
  std::string identity;
  for (const Detector* detector : detectors::all()) identity += fmt::format("{}={};", detector->name, detector->version);
  return identity;
}

}  // namespace papillote::condition
