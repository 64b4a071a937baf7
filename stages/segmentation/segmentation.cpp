#include "stages/segmentation/segmentation.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "stages/segmentation/candidates.h"
#include "stages/segmentation/refine.h"

namespace papillote::segmentation {
namespace {

constexpr double kWorkingSide_px = 1400;
constexpr double kLeastConfidence = 0.6;

Shape shape_of(const Quad& quad, double scale) {
  Shape shape;
  for (const Point& p : quad) shape.emplace_back(p.x * scale, p.y * scale);
  double twice = 0;
  for (std::size_t i = 0; i < 4; ++i) twice += shape[i].cross(shape[(i + 1) % 4]);
  if (twice < 0) std::reverse(shape.begin(), shape.end());
  return shape;
}

cv::Point2d middle_of(const Shape& shape) {
  cv::Point2d sum;
  for (const cv::Point2d& p : shape) sum += p;
  return sum / static_cast<double>(shape.size());
}

void fill(cv::Mat& mask, const Shape& shape, double grow_px) {
  std::vector<cv::Point> polygon;
  const cv::Point2d middle = middle_of(shape);
  for (const cv::Point2d& p : shape) {
    const cv::Point2d d = p - middle;
    polygon.emplace_back(cv::Point2d(p + d * (grow_px * 1.4 / std::max(cv::norm(d), 1.0))));
  }
  cv::fillConvexPoly(mask, polygon, cv::Scalar(255));
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

}  // namespace

Result<std::vector<EnvelopeOutline>> find_envelopes(const Photo& photo, const Calibration& calibration, const image::Image& image,
                                                    const Options& options) {
  std::vector<EnvelopeOutline> outlines;
  if (!image.bgr.empty() && std::min(image.bgr.cols, image.bgr.rows) >= 64) {
    const double scale = std::min(1.0, kWorkingSide_px / std::max(image.bgr.cols, image.bgr.rows));
    cv::Mat small = image.bgr;
    if (scale < 1) cv::resize(image.bgr, small, {}, scale, scale, cv::INTER_AREA);

    SideLimits limits;
    if (calibration.px_per_mm) {
      limits = {options.least_side_mm * *calibration.px_per_mm * scale, options.most_side_mm * *calibration.px_per_mm * scale};
    } else {
      // Without a scale: between a twenty-eighth and nine tenths of the photograph's longer side.
      limits = {std::max(small.cols, small.rows) / 28.0, std::max(small.cols, small.rows) * 0.9};
    }
    limits.least_px = std::max(limits.least_px, 16.0);

    cv::Mat ignore = cv::Mat::zeros(small.size(), CV_8U);
    constexpr double kCardMargin_mm = 1.5;  // its shadow
    if (calibration.card_px) fill(ignore, shape_of(*calibration.card_px, scale), kCardMargin_mm * calibration.px_per_mm.value_or(0) * scale);

    std::array<cv::Mat, 3> channels;
    cv::split(image.bgr, channels.data());
    for (const Candidate& candidate : find_all(small, ignore, limits)) {
      if (candidate.quality < kLeastConfidence || is_code_paper(candidate.shape, calibration, scale)) continue;
      Polygon coarse;
      for (const cv::Point2d& p : candidate.shape) coarse.push_back({p.x / scale, p.y / scale});
      EnvelopeOutline outline;
      outline.polygon_px = refined(channels, coarse, std::max(3.0, 2.5 / scale));
      Shape shape;
      for (const Point& p : outline.polygon_px) shape.emplace_back(p.x, p.y);
      outline.crop = crop_around(shape);
      outline.shape = name_of(shape);
      outline.size_mm = size_mm(outline.crop, calibration);
      const double margin = 1.5 / scale;
      outline.cut_off = std::any_of(shape.begin(), shape.end(), [&](const cv::Point2d& p) {
        return p.x < margin || p.y < margin || p.x > image.bgr.cols - margin || p.y > image.bgr.rows - margin;
      });
      outline.confidence = std::min(1.0, candidate.quality);
      outlines.push_back(std::move(outline));
    }
  }
  if (outlines.empty())
    return Failure{std::string(stage.name), "no_envelope", photo.path + ": no envelope was found in the photograph.",
                   "Check that it shows envelopes on a plain table; if they have the table's colour, lay them on another."};
  put_in_reading_order(outlines);
  return outlines;
}

}  // namespace papillote::segmentation
