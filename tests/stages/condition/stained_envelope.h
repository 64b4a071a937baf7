// An envelope drawn with round stains, for the tests of what changed between two photographs of it.
#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/index_record.h"

namespace papillote::condition::drawn {

inline Polygon round(Point middle, double radius) {
  Polygon polygon;
  for (int i = 0; i < 24; ++i) {
    const double angle = i * CV_PI / 12;
    polygon.push_back({middle.x + radius * std::cos(angle), middle.y + radius * std::sin(angle)});
  }
  return polygon;
}

inline Finding finding(const std::string& kind, int severity, Point middle_mm, double radius_mm, double confidence = 0.9) {
  return {kind, severity, confidence, round(middle_mm, radius_mm), 2 * radius_mm, ""};
}

// An envelope of 70 x 50 mm, a folded triangle, photographed at `scale` pixels a millimetre and turned by `deg`.
inline IndexRecord photographed(std::vector<Finding> findings_mm, double scale, double deg) {
  const double c = scale * std::cos(deg * CV_PI / 180), s = scale * std::sin(deg * CV_PI / 180);
  const cv::Matx33d photo_from_mm{c, -s, 900, s, c, 700, 0, 0, 1};
  IndexRecord record;
  record.outline.polygon_px = image::carried({{0, 0}, {70, 0}, {70, 50}}, photo_from_mm);
  const Polygon corners = image::carried({{0, 0}, {70, 0}, {70, 50}, {0, 50}}, photo_from_mm);
  std::copy(corners.begin(), corners.end(), record.outline.crop.quad_px.begin());
  record.outline.crop.width_px = static_cast<int>(70 * scale);
  record.outline.crop.height_px = static_cast<int>(50 * scale);
  record.outline.size_mm = Point{70, 50};
  for (Finding& each : findings_mm) {
    each.polygon_px = image::carried(each.polygon_px, photo_from_mm);
    record.condition.findings.push_back(std::move(each));
  }
  return record;
}

// The same envelope as a picture: paper on a dark table, with writing, and round stains.
inline image::Image picture(const std::vector<std::pair<Point, double>>& stains_mm, double scale, double deg,
                            double light = 1) {
  const double c = scale * std::cos(deg * CV_PI / 180), s = scale * std::sin(deg * CV_PI / 180);
  const cv::Matx33d photo_from_mm{c, -s, 900, s, c, 700, 0, 0, 1};
  image::Image photo;
  photo.bgr = cv::Mat(1500, 1800, CV_8UC3, cv::Scalar(60, 60, 60) * light);
  const auto fill = [&](const Polygon& mm, const cv::Scalar& tone) {
    std::vector<cv::Point> px;
    for (const Point& p : image::carried(mm, photo_from_mm)) px.emplace_back(cvRound(p.x), cvRound(p.y));
    cv::fillPoly(photo.bgr, std::vector<std::vector<cv::Point>>{px}, tone * light, cv::LINE_AA);
  };
  fill({{0, 0}, {70, 0}, {70, 50}}, {190, 210, 220});
  for (int i = 0; i < 5; ++i)
    fill({{20 + 6.0 * i, 8}, {22 + 6.0 * i, 8}, {24 + 6.0 * i, 11}, {22 + 6.0 * i, 11}}, {70, 60, 60});
  for (const auto& [middle, radius] : stains_mm) fill(round(middle, radius), {110, 140, 160});
  cv::GaussianBlur(photo.bgr, photo.bgr, {}, 1.2);
  return photo;
}

}  // namespace papillote::condition::drawn
