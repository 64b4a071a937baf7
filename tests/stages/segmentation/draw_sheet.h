// Sheets of envelopes drawn for tests: plain shapes of paper with a soft shadow, grain and noise.
#pragma once

#include <cmath>
#include <vector>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::segmentation::draw {

inline void grain(cv::Mat& picture, double spread) {
  cv::Mat noise(picture.size(), CV_16SC3);
  cv::RNG rng(17);
  rng.fill(noise, cv::RNG::NORMAL, 0, spread);
  cv::add(picture, noise, picture, cv::noArray(), CV_8U);
}

inline cv::Mat table(cv::Size size_px, cv::Scalar bgr, double spread = 2) {
  cv::Mat picture(size_px, CV_8UC3, bgr);
  grain(picture, spread);
  return picture;
}

inline Polygon turned(const Polygon& shape, double turned_deg, Point to_px) {
  const double c = std::cos(turned_deg * CV_PI / 180);
  const double s = std::sin(turned_deg * CV_PI / 180);
  Polygon out;
  for (const Point& p : shape) out.push_back({to_px.x + p.x * c - p.y * s, to_px.y + p.x * s + p.y * c});
  return out;
}

// About the middle of the box; the triangle is folded right-isosceles, longest side below.
inline Polygon rectangle(double width_px, double height_px) {
  return {{-width_px / 2, -height_px / 2}, {width_px / 2, -height_px / 2}, {width_px / 2, height_px / 2}, {-width_px / 2, height_px / 2}};
}
inline Polygon triangle(double longest_px) { return {{0, -longest_px / 4}, {longest_px / 2, longest_px / 4}, {-longest_px / 2, longest_px / 4}}; }

// How much of each pixel the polygon covers, 0..255, to a tenth of a pixel. OpenCV's own filling draws the outline too and so
// makes a shape up to a pixel larger on each side.
inline cv::Mat covered(cv::Size size_px, const Polygon& polygon) {
  std::vector<cv::Point2f> outline;
  for (const Point& p : polygon) outline.emplace_back(float(p.x), float(p.y));
  cv::Mat coverage = cv::Mat::zeros(size_px, CV_8U);
  const cv::Rect box = (cv::boundingRect(outline) + cv::Size(2, 2) - cv::Point(1, 1)) & cv::Rect({0, 0}, size_px);
  for (int y = box.y; y < box.br().y; ++y)
    for (int x = box.x; x < box.br().x; ++x) {
      const double inside_px = cv::pointPolygonTest(outline, {float(x) + 0.5F, float(y) + 0.5F}, true);
      coverage.at<uchar>(y, x) = cv::saturate_cast<uchar>(255 * (inside_px + 0.5));
    }
  return coverage;
}

inline void shade(cv::Mat& picture, const Polygon& polygon, cv::Point2d away_px, double soft_px, double strength) {
  Polygon moved = polygon;
  for (Point& p : moved) p = {p.x + away_px.x, p.y + away_px.y};
  cv::Mat shadow = covered(picture.size(), moved);
  cv::GaussianBlur(shadow, shadow, {}, soft_px);
  for (int y = 0; y < picture.rows; ++y)
    for (int x = 0; x < picture.cols; ++x)
      picture.at<cv::Vec3b>(y, x) *= 1 - strength * shadow.at<uchar>(y, x) / 255.0;
}

inline void paper(cv::Mat& picture, const Polygon& polygon, cv::Scalar bgr) {
  const cv::Mat coverage = covered(picture.size(), polygon);
  const cv::Vec3d colour(bgr[0], bgr[1], bgr[2]);
  for (int y = 0; y < picture.rows; ++y)
    for (int x = 0; x < picture.cols; ++x) {
      const double share = coverage.at<uchar>(y, x) / 255.0;
      if (share > 0) picture.at<cv::Vec3b>(y, x) = cv::Vec3b(share * colour + (1 - share) * cv::Vec3d(picture.at<cv::Vec3b>(y, x)));
    }
}

inline void envelope(cv::Mat& picture, const Polygon& polygon, cv::Scalar bgr) {
  shade(picture, polygon, {6, 9}, 6, 0.35);
  paper(picture, polygon, bgr);
}

// The flap of an envelope: from two neighbouring corners to a point at its middle, the paper there a little darker.
inline void flap(cv::Mat& picture, const Polygon& envelope) {
  const Point& a = envelope[0];
  const Point& b = envelope[1];
  const Point middle = centroid_of(envelope);
  shade(picture, {a, b, middle}, {0, 0}, 1, 0.08);
  for (const Point& end : {a, b})
    cv::line(picture, cv::Point(cvRound(end.x), cvRound(end.y)), cv::Point(cvRound(middle.x), cvRound(middle.y)), cv::Scalar(150, 180, 190), 2, cv::LINE_AA);
}

inline double overlap(const Polygon& one, const Polygon& other) {  // intersection over union of convex polygons
  const auto floats = [](const Polygon& p) {
    std::vector<cv::Point2f> out;
    for (const Point& q : p) out.emplace_back(float(q.x), float(q.y));
    return out;
  };
  std::vector<cv::Point2f> common;
  const double both = cv::intersectConvexConvex(floats(one), floats(other), common);
  return both / (cv::contourArea(floats(one)) + cv::contourArea(floats(other)) - both);
}

}  // namespace papillote::segmentation::draw
