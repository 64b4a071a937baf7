#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace papillote::image {
namespace {

double distance(const Point& a, const Point& b) { return std::hypot(a.x - b.x, a.y - b.y); }

cv::Matx33d target_from_quad(const Quad& quad_px, cv::Size size) {
  std::array<cv::Point2f, 4> from;
  std::transform(quad_px.begin(), quad_px.end(), from.begin(),
                 [](const Point& p) { return cv::Point2f(static_cast<float>(p.x), static_cast<float>(p.y)); });
  const auto w = static_cast<float>(size.width);
  const auto h = static_cast<float>(size.height);
  const std::array<cv::Point2f, 4> to{{{0, 0}, {w, 0}, {w, h}, {0, h}}};
  return cv::Matx33d(cv::getPerspectiveTransform(from.data(), to.data()));
}

cv::Matx33d shift(double x, double y) { return {1, 0, x, 0, 1, y, 0, 0, 1}; }

}  // namespace

cv::Matx33d crop_from_photo(const Crop& crop) { return target_from_quad(crop.quad_px, {crop.width_px, crop.height_px}); }

Polygon carried(const Polygon& polygon, const cv::Matx33d& target_from_source) {
  Polygon out;
  out.reserve(polygon.size());
  for (const Point& p : polygon) {
    const cv::Vec3d q = target_from_source * cv::Vec3d(p.x, p.y, 1);
    out.push_back({q[0] / q[2], q[1] / q[2]});
  }
  return out;
}

cv::Mat rectify(const Image& photo, const Crop& crop) {
  return rectify(photo, crop.quad_px, {crop.width_px, crop.height_px});
}

cv::Mat rectify(const Image& photo, const Quad& quad_px, cv::Size size) { return rectify(photo.bgr, quad_px, size); }

cv::Mat rectify(const cv::Mat& pixels, const Quad& quad_px, cv::Size size) {
  if (pixels.empty() || size.width <= 0 || size.height <= 0) return {};
  const auto [left, right] = std::minmax({quad_px[0].x, quad_px[1].x, quad_px[2].x, quad_px[3].x});
  const auto [top, bottom] = std::minmax({quad_px[0].y, quad_px[1].y, quad_px[2].y, quad_px[3].y});
  constexpr int kMargin = 8;  // what the interpolation looks at beyond the edge
  const cv::Point first(static_cast<int>(std::floor(left)) - kMargin, static_cast<int>(std::floor(top)) - kMargin);
  const cv::Point last(static_cast<int>(std::ceil(right)) + kMargin, static_cast<int>(std::ceil(bottom)) + kMargin);
  const cv::Rect part = cv::Rect(first, last) & cv::Rect(cv::Point(), pixels.size());
  if (part.empty()) return cv::Mat(size, pixels.type(), cv::Scalar::all(0));

  // Bicubic interpolation alone skips pixels when it shrinks much: shrink by area first.
  const double shrink = std::min(std::max(distance(quad_px[0], quad_px[1]), distance(quad_px[3], quad_px[2])) / size.width,
                                 std::max(distance(quad_px[0], quad_px[3]), distance(quad_px[1], quad_px[2])) / size.height);
  // Means of whole pixels cost a tenth of means of parts of pixels, so as far as whole ones go and bicubic for the rest.
  cv::Mat source = pixels(part);
  cv::Matx33d source_from_photo = shift(-part.x, -part.y);
  if (shrink > 1.5) {
    const int whole = static_cast<int>(shrink);
    const bool by_whole = whole >= 2 && std::min(part.width, part.height) >= 2 * whole;
    if (by_whole) source = source(cv::Rect(0, 0, part.width / whole * whole, part.height / whole * whole));
    const double by = by_whole ? whole : shrink;
    const cv::Size fit(std::max(1, cvRound(source.cols / by)), std::max(1, cvRound(source.rows / by)));
    source_from_photo = cv::Matx33d::diag({double(fit.width) / source.cols, double(fit.height) / source.rows, 1}) * source_from_photo;
    cv::Mat smaller;
    cv::resize(source, smaller, fit, 0, 0, cv::INTER_AREA);
    source = smaller;
  }
  // Record coordinates begin at a pixel's corner, OpenCV's at its centre.
  const cv::Matx33d target_from_source =
      shift(-0.5, -0.5) * target_from_quad(quad_px, size) * source_from_photo.inv() * shift(0.5, 0.5);
  cv::Mat target;
  cv::warpPerspective(source, target, target_from_source, size, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
  return target;
}

cv::Rect box_of(const Polygon& polygon) {
  std::vector<cv::Point2f> corners;
  for (const Point& p : polygon) corners.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  return cv::boundingRect(corners);
}

cv::Mat inside_of(const Polygon& polygon, const cv::Rect& part, double finer) {
  cv::Mat mask = cv::Mat::zeros(cvRound(part.height * finer), cvRound(part.width * finer), CV_8U);
  std::vector<cv::Point> corners;
  for (const Point& p : polygon) corners.emplace_back(cvRound((p.x - part.x) * finer), cvRound((p.y - part.y) * finer));
  if (corners.size() >= 3) cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{corners}, cv::Scalar(255));
  return mask;
}

}  // namespace papillote::image
