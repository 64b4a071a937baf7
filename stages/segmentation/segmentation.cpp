#include "stages/segmentation/segmentation.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "stages/segmentation/instances.h"
#include "stages/segmentation/outline.h"
#include "stages/segmentation/refine.h"

namespace papillote::segmentation {
namespace {

constexpr double kLeastConfidence = 0.5;
constexpr int kGlance_px = 704;  // longer side of the picture for a glance

struct SideLimits {
  double least_px = 0;
  double most_px = 0;
};

Shape shape_of(const Quad& quad, double scale) {
  Shape shape;
  for (const Point& p : quad) shape.emplace_back(p.x * scale, p.y * scale);
  double twice = 0;
  for (std::size_t i = 0; i < 4; ++i) twice += shape[i].cross(shape[(i + 1) % 4]);
  if (twice < 0) std::reverse(shape.begin(), shape.end());
  return shape;
}

Shape shape_of(const Polygon& polygon) {
  Shape shape;
  for (const Point& p : polygon) shape.emplace_back(p.x, p.y);
  return shape;
}

cv::Point2d middle_of(const Shape& shape) {
  cv::Point2d sum;
  for (const cv::Point2d& p : shape) sum += p;
  return sum / static_cast<double>(shape.size());
}

void fill(cv::Mat& mask, const Shape& shape) {
  std::vector<cv::Point> polygon;
  for (const cv::Point2d& p : shape) polygon.emplace_back(cvRound(p.x), cvRound(p.y));
  cv::fillConvexPoly(mask, polygon, cv::Scalar(255));
}

// Of a size that envelopes have; of one that something lies on or the frame cuts, a part may be seen.
bool plausible(const Shape& shape, const SideLimits& limits, bool in_part) {
  const auto frame = frame_of(shape);
  if (frame.empty()) return false;
  const double a = cv::norm(frame[1] - frame[0]);
  const double b = cv::norm(frame[2] - frame[1]);
  constexpr double kMostSlender = 3.4;  // a ruler is longer
  // The height of a folded triangle on its longest side is half that side.
  const double least = (in_part ? 0.3 : shape.size() == 3 ? 0.7 : 1.0) * limits.least_px;
  return std::min(a, b) >= least && std::max(a, b) <= 1.42 * limits.most_px && (in_part || std::max(a, b) <= kMostSlender * std::min(a, b));
}

// Probability that the outline is one envelope and fits it (IoU of at least 0.7): a logistic regression over what was found on
// scenes that the network was not trained on.
double confidence_of(const Instance& instance, const Outline& outline, bool cut_off) {
  const double own = static_cast<double>(std::count(outline.own.begin(), outline.own.end(), true)) / static_cast<double>(outline.own.size());
  const double covered = cv::countNonZero(instance.covered) / instance.area_px;
  // A scrap that shows of an envelope beneath others points far away. What the frame cuts off does too, and is no scrap.
  const double away = cut_off ? 0 : cv::norm(instance.full_middle - instance.middle) / std::sqrt(instance.area_px);
  const double log_odds = 12.9 * instance.paper + 5.6 * instance.closed + 6.2 * instance.agreement + 1.9 * own - 2.8 * covered - 2.0 * away - 22.0;
  return 1 / (1 + std::exp(-log_odds));
}

// Paper that carries the sheet label, or a slip's own small paper.
bool is_code_paper(const Shape& shape, const Calibration& calibration, double scale) {
  if (calibration.label_px) {
    const Shape code = shape_of(*calibration.label_px, scale);
    if (contains(shape, middle_of(code))) return true;
    // The words beside the code, when the code itself was taken for something else.
    const double side = std::sqrt(area_of(code));
    const double reach = -cv::pointPolygonTest(std::vector<cv::Point2f>(shape.begin(), shape.end()), cv::Point2f(middle_of(code)), true);
    if (reach < side && area_of(shape) < 6 * side * side && name_of(shape) != "triangle") return true;
  }
  constexpr double kLeastShare = 0.15;  // of a slip that its code takes
  return std::any_of(calibration.slips.begin(), calibration.slips.end(), [&](const SeenCode& slip) {
    const Shape code = shape_of(slip.quad_px, scale);
    return contains(shape, middle_of(code)) && area_of(code) > kLeastShare * area_of(shape);
  });
}

std::optional<Point> size_mm(const Crop& crop, const Calibration& calibration) {
  Polygon corners(crop.quad_px.begin(), crop.quad_px.end());
  if (calibration.mm_from_px) {
    corners = image::carried(corners, cv::Matx33d(calibration.mm_from_px->data()));
  } else if (calibration.px_per_mm) {
    for (Point& p : corners) p = {p.x / *calibration.px_per_mm, p.y / *calibration.px_per_mm};
  } else {
    return std::nullopt;
  }
  const auto apart = [&](std::size_t a, std::size_t b) { return std::hypot(corners[a].x - corners[b].x, corners[a].y - corners[b].y); };
  return Point{(apart(0, 1) + apart(3, 2)) / 2, (apart(0, 3) + apart(1, 2)) / 2};
}

Crop crop_around(const Shape& shape_px) {
  Crop crop;
  const auto frame = frame_of(shape_px);
  for (std::size_t i = 0; i < 4; ++i) crop.quad_px[i] = {frame[i].x, frame[i].y};
  crop.width_px = std::max(1, cvRound(cv::norm(frame[1] - frame[0])));
  crop.height_px = std::max(1, cvRound(cv::norm(frame[2] - frame[1])));
  return crop;
}

// From the marks to the photograph; where its channels are given, sides on its edges at sub-pixel accuracy.
EnvelopeOutline placed(cv::Size photo, const std::array<cv::Mat, 3>* channels, const Instance& instance, const Outline& seen, double photo_px) {
  const double width = photo.width, height = photo.height;
  EnvelopeOutline outline;
  for (const cv::Point2d& p : seen.corners)
    outline.polygon_px.push_back({std::clamp(p.x * photo_px, 0.0, width), std::clamp(p.y * photo_px, 0.0, height)});
  if (channels != nullptr)
    for (const double reach : {1.6, 0.8}) outline.polygon_px = refined(*channels, outline.polygon_px, std::max(2.0, reach * photo_px));
  const double margin = 1.5 * photo_px;
  outline.cut_off = std::any_of(outline.polygon_px.begin(), outline.polygon_px.end(), [&](const Point& p) {
    return p.x < margin || p.y < margin || p.x > width - margin || p.y > height - margin;
  });
  const Shape shape = shape_of(outline.polygon_px);
  for (const cv::Point2d& p : completed(shape, seen.own, instance.full_middle * photo_px)) outline.whole_px.push_back({p.x, p.y});
  outline.crop = crop_around(shape);
  outline.shape = name_of(shape);
  outline.confidence = confidence_of(instance, seen, outline.cut_off);
  return outline;
}

// What the pixels do not fill of the corners is no paper; the crop, the shape and its size are those of the whole.
void leave_out_lost_corners(EnvelopeOutline& outline, const Instance& instance, double photo_px) {
  Shape marked = shape_of(outline.polygon_px);
  for (cv::Point2d& p : marked) p /= photo_px;
  outline.polygon_px.clear();
  for (const cv::Point2d& p : without_lost_corners(marked, instance)) outline.polygon_px.push_back({p.x * photo_px, p.y * photo_px});
}

// Rows from above, each from the left.
void put_in_reading_order(std::vector<EnvelopeOutline>& outlines) {
  struct Placed {
    cv::Point2d middle;
    double height = 0;
  };
  const auto placed = [](const EnvelopeOutline& o) {
    Placed p;
    double top = o.polygon_px[0].y;
    double bottom = top;
    for (const Point& v : o.polygon_px) {
      p.middle += cv::Point2d(v.x, v.y) / static_cast<double>(o.polygon_px.size());
      top = std::min(top, v.y), bottom = std::max(bottom, v.y);
    }
    p.middle.y = (top + bottom) / 2;
    p.height = bottom - top;
    return p;
  };
  std::sort(outlines.begin(), outlines.end(),
            [&](const EnvelopeOutline& a, const EnvelopeOutline& b) { return placed(a).middle.y < placed(b).middle.y; });
  for (auto row = outlines.begin(); row != outlines.end();) {
    const Placed first = placed(*row);
    const auto end = std::find_if(row, outlines.end(), [&](const EnvelopeOutline& o) {
      return placed(o).middle.y > first.middle.y + 0.5 * std::max(first.height, placed(o).height);
    });
    std::sort(row, end, [&](const EnvelopeOutline& a, const EnvelopeOutline& b) { return placed(a).middle.x < placed(b).middle.x; });
    row = end;
  }
  for (std::size_t i = 0; i < outlines.size(); ++i) outlines[i].number = static_cast<int>(i);
}

Result<std::vector<EnvelopeOutline>> outlines_of(const Photo& photo, const Calibration& calibration, const image::Image& image,
                                                 const Finder& finder, const Options& options, bool at_a_glance) {
  std::vector<EnvelopeOutline> outlines;
  if (!image.bgr.empty() && std::min(image.bgr.cols, image.bgr.rows) >= 64) {
    const auto marks = finder.look(image.bgr, at_a_glance ? kGlance_px : Finder::kLongSide_px);
    if (!marks) return marks.failure();
    const double scale = 1 / marks->photo_px;
    cv::Mat card = cv::Mat::zeros(marks->paper.size(), CV_8U);
    if (calibration.card_px) fill(card, shape_of(*calibration.card_px, scale));
    SideLimits limits{std::max(image.bgr.cols, image.bgr.rows) / 70.0, std::max(image.bgr.cols, image.bgr.rows) * 1.5};
    if (calibration.px_per_mm) limits = {options.least_side_mm * *calibration.px_per_mm, options.most_side_mm * *calibration.px_per_mm};

    std::array<cv::Mat, 3> channels;
    if (!at_a_glance) cv::split(image.bgr, channels.data());
    for (const Instance& instance : instances_of(*marks, card)) {
      const Outline seen = outline_of(instance);
      if (seen.corners.empty() || is_code_paper(seen.corners, calibration, scale)) continue;
      EnvelopeOutline outline = placed(image.bgr.size(), at_a_glance ? nullptr : &channels, instance, seen, marks->photo_px);
      const bool in_part = outline.cut_off || std::find(seen.own.begin(), seen.own.end(), false) != seen.own.end();
      if (outline.confidence < kLeastConfidence || !plausible(shape_of(outline.polygon_px), limits, in_part)) continue;
      outline.size_mm = size_mm(outline.crop, calibration);
      if (!at_a_glance) leave_out_lost_corners(outline, instance, marks->photo_px);
      outlines.push_back(std::move(outline));
    }
  }
  if (outlines.empty())
    return Failure{std::string(stage.name), "no_envelope", photo.path + ": no envelope was found in the photograph.",
                   "Check that it shows envelopes on a plain table; if they have the table's colour, lay them on another."};
  put_in_reading_order(outlines);
  return outlines;
}

}  // namespace

Result<std::vector<EnvelopeOutline>> find_envelopes(const Photo& photo, const Calibration& calibration, const image::Image& image,
                                                    const Finder& finder, const Options& options) {
  return outlines_of(photo, calibration, image, finder, options, false);
}

Result<std::vector<EnvelopeOutline>> glance(const Photo& photo, const Calibration& calibration, const image::Image& image,
                                            const Finder& finder, const Options& options) {
  return outlines_of(photo, calibration, image, finder, options, true);
}

}  // namespace papillote::segmentation
