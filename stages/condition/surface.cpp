#include "stages/condition/surface.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace papillote::condition {

cv::Mat paper_tone(const View& view) {
  // A median over about 9 mm, taken at a quarter of the size; pixels off the paper are first filled with the paper's mean.
  cv::Mat sound;
  cv::bitwise_and(view.paper, ~view.ink, sound);
  if (cv::countNonZero(sound) < 100) sound = view.paper;
  cv::Mat filled = view.lab.clone();
  const cv::Scalar mean = cv::mean(view.lab, sound);
  filled.setTo(mean, ~sound);
  // Medians of 8-bit planes: L* 0..100 and a*, b* -64..64 keep half a unit.
  cv::Mat small;
  cv::resize(filled, small, {}, 0.25, 0.25, cv::INTER_AREA);
  std::vector<cv::Mat> planes;
  cv::split(small, planes);
  const int kernel = std::clamp(2 * cvRound(9 * view.unit_px / 8) + 1, 3, 61);
  for (std::size_t c = 0; c < 3; ++c) {
    cv::Mat coded;
    planes[c].convertTo(coded, CV_8U, 2, c == 0 ? 0 : 128);
    cv::medianBlur(coded, coded, kernel);
    coded.convertTo(planes[c], CV_32F, 0.5, c == 0 ? 0 : -64);
  }
  cv::Mat tone;
  cv::merge(planes, tone);
  cv::resize(tone, tone, view.lab.size(), 0, 0, cv::INTER_LINEAR);
  return tone;
}

cv::Mat distance_from_table(const View& view) {
  cv::Mat table;
  cv::bitwise_or(view.paper, view.others, table);
  cv::dilate(table, table, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * cvRound(view.unit_px) + 1, 2 * cvRound(view.unit_px) + 1}));
  table = ~table;
  cv::Mat distance(view.lab.size(), CV_32F, cv::Scalar(100));
  if (cv::countNonZero(table) < 200) return distance;
  // A table may be patterned (wood, cloth): up to four tones stand for it.
  std::vector<cv::Vec3f> samples;
  const int stride = std::max(1, static_cast<int>(std::sqrt(cv::countNonZero(table) / 1500.0)));
  for (int y = 0; y < table.rows; y += stride)
    for (int x = 0; x < table.cols; x += stride)
      if (table.at<uchar>(y, x) != 0) {
        cv::Vec3f lab = view.lab.at<cv::Vec3f>(y, x);
        lab[0] *= 0.5F;
        samples.push_back(lab);
      }
  const int tones = std::min<int>(4, static_cast<int>(samples.size()));
  cv::Mat labels;
  cv::Mat centres;
  cv::theRNG().state = 20250101;  // k-means draws its start from the global generator: the answer must not depend on earlier calls
  cv::kmeans(cv::Mat(static_cast<int>(samples.size()), 3, CV_32F, samples.data()), tones, labels,
             {cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 20, 0.5}, 2, cv::KMEANS_PP_CENTERS, centres);
  std::vector<int> counts(static_cast<std::size_t>(tones));
  for (int i = 0; i < labels.rows; ++i) ++counts[static_cast<std::size_t>(labels.at<int>(i))];
  for (int y = 0; y < distance.rows; ++y) {
    for (int x = 0; x < distance.cols; ++x) {
      cv::Vec3f lab = view.lab.at<cv::Vec3f>(y, x);
      lab[0] *= 0.5F;
      float least = 100;
      for (int k = 0; k < tones; ++k) {
        // A tone of few samples may be a leg or a crumb on the table.
        if (counts[static_cast<std::size_t>(k)] * 20 < labels.rows) continue;
        const cv::Vec3f difference = lab - cv::Vec3f(centres.at<float>(k, 0), centres.at<float>(k, 1), centres.at<float>(k, 2));
        least = std::min(least, std::sqrt(difference.dot(difference)));
      }
      distance.at<float>(y, x) = least;
    }
  }
  return distance;
}

std::vector<Region> regions_of(const cv::Mat& mask, double least_area_px) {
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(mask.clone(), contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  std::vector<Region> regions;
  for (auto& contour : contours) {
    Region region;
    // The boundary runs through pixel centres; half of it belongs to the area too.
    region.area_px = cv::contourArea(contour) + 0.5 * static_cast<double>(contour.size()) + 1;
    if (region.area_px < least_area_px) continue;
    region.box = cv::boundingRect(contour);
    const cv::RotatedRect around = cv::minAreaRect(contour);
    region.length_px = std::max(around.size.width, around.size.height) + 1;
    region.width_px = std::min(around.size.width, around.size.height) + 1;
    std::vector<cv::Point> hull;
    cv::convexHull(contour, hull);
    const double hull_area = cv::contourArea(hull) + 0.5 * cv::arcLength(hull, true) + 1;
    const double perimeter = cv::arcLength(hull, true) + 3.14159;
    region.solidity = std::min(1.0, region.area_px / hull_area);
    region.roundness = std::min(1.0, 4 * 3.14159 * hull_area / (perimeter * perimeter));
    region.centre = around.center;
    region.contour = std::move(contour);
    regions.push_back(std::move(region));
  }
  return regions;
}

cv::Mat stray_matter(const View& view) {
  const double unit = view.unit_px;
  cv::Mat around;
  cv::bitwise_or(view.paper, view.others, around);
  // The outline is good to half a millimetre; neighbours' edges need a little more room.
  cv::Mat near_others;
  cv::dilate(view.others, near_others, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * cvRound(unit) + 1, 2 * cvRound(unit) + 1}));
  cv::bitwise_or(around, near_others, around);
  // A soft shadow is the table, darker: its colour per lightness is the table's. Matter has an edge, a shadow has a slope.
  cv::Mat lightness;
  cv::extractChannel(view.lab, lightness, 0);
  cv::Mat gradient_x;
  cv::Mat gradient_y;
  cv::GaussianBlur(lightness, lightness, {}, 0.15 * unit);
  cv::Sobel(lightness, gradient_x, CV_32F, 1, 0);
  cv::Sobel(lightness, gradient_y, CV_32F, 0, 1);
  cv::Mat steep;
  cv::magnitude(gradient_x, gradient_y, steep);
  cv::Mat edges = steep > 14;
  cv::dilate(edges, edges, cv::getStructuringElement(cv::MORPH_ELLIPSE, {cvRound(unit) | 1, cvRound(unit) | 1}));
  cv::Mat matter = view.from_table > 11;
  cv::bitwise_and(matter, edges, matter);
  matter.setTo(0, around);
  cv::morphologyEx(matter, matter, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {cvRound(0.6 * unit) | 1, cvRound(0.6 * unit) | 1}));
  matter.setTo(0, around);
  return matter;
}

std::vector<Region> gaps_at_edge(const View& view) {
  const double unit = view.unit_px;
  std::vector<cv::Point> outline;
  for (const Point& p : view.outline) outline.emplace_back(cvRound(p.x), cvRound(p.y));
  if (outline.size() < 3) return {};
  std::vector<cv::Point> hull;
  cv::convexHull(outline, hull);
  cv::Mat whole = cv::Mat::zeros(view.paper.size(), CV_8U);
  cv::fillConvexPoly(whole, hull, cv::Scalar(255));
  whole.setTo(0, view.others);

  // No paper: outside the outline, or inside it and looking like the table rather than like the paper.
  cv::Mat gap = whole & ~view.paper;
  for (int y = 0; y < gap.rows; ++y) {
    for (int x = 0; x < gap.cols; ++x) {
      if (view.paper.at<uchar>(y, x) == 0 || view.ink.at<uchar>(y, x) != 0) continue;
      const cv::Vec3f difference = view.lab.at<cv::Vec3f>(y, x) - view.tone.at<cv::Vec3f>(y, x);
      const double from_paper = std::sqrt(difference.dot(difference));
      if (from_paper > 14 && view.from_table.at<float>(y, x) < 0.5 * from_paper) gap.at<uchar>(y, x) = 255;
    }
  }
  // A ragged edge and the outline's own error are slivers along the rim.
  const int least = std::max(3, cvRound(0.5 * unit) | 1);
  cv::morphologyEx(gap, gap, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {least, least}));
  cv::Mat core;
  const int rim = 2 * cvRound(1.0 * unit) + 1;
  cv::erode(whole, core, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  std::vector<Region> open;
  for (Region& region : regions_of(gap, 0.8 * unit * unit)) {
    cv::Mat own = cv::Mat::zeros(region.box.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{region.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                     -region.box.tl());
    cv::Mat within;
    cv::bitwise_and(own, core(region.box), within);
    const int deep = cv::countNonZero(within);
    const int all = cv::countNonZero(own);
    if (deep == 0 || deep == all) continue;  // only along the rim, or closed: a hole
    open.push_back(std::move(region));
  }
  return open;
}

bool is_corner_gap(const View& view, const Region& gap) {
  std::vector<cv::Point> outline;
  for (const Point& p : view.outline) outline.emplace_back(cvRound(p.x), cvRound(p.y));
  const cv::RotatedRect around = cv::minAreaRect(outline);
  cv::Point2f corners[4];
  around.points(corners);
  std::vector<cv::Point2f> whole;
  if (view.shape == "triangle")
    cv::minEnclosingTriangle(outline, whole);
  else
    whole.assign(corners, corners + 4);
  for (const cv::Point2f& corner : whole)
    if (cv::pointPolygonTest(gap.contour, corner, true) > -1.5 * view.unit_px && gap.width_px > 0.35 * gap.length_px) return true;
  return false;
}

double depth_into_paper_px(const View& view, const Region& gap) {
  std::vector<cv::Point> outline;
  for (const Point& p : view.outline) outline.emplace_back(cvRound(p.x), cvRound(p.y));
  std::vector<cv::Point> hull;
  cv::convexHull(outline, hull);
  double deepest = 0;
  for (const cv::Point& p : gap.contour) deepest = std::max(deepest, cv::pointPolygonTest(hull, cv::Point2f(p), true));
  return deepest;
}

Polygon polygon_of(const std::vector<cv::Point>& contour, double tolerance_px) {
  std::vector<cv::Point> simple;
  cv::approxPolyDP(contour, simple, tolerance_px, true);
  if (simple.size() < 3) {
    const cv::Rect box = cv::boundingRect(contour);
    simple = {box.tl(), {box.br().x, box.y}, box.br(), {box.x, box.br().y}};
  }
  Polygon polygon;
  for (const cv::Point& p : simple) polygon.push_back({p.x + 0.5, p.y + 0.5});
  return polygon;
}

Polygon hull_of(const std::vector<Region>& regions) {
  std::vector<cv::Point> all;
  for (const Region& region : regions) all.insert(all.end(), region.contour.begin(), region.contour.end());
  std::vector<cv::Point> hull;
  cv::convexHull(all, hull);
  return polygon_of(hull, 1);
}

double confidence_of(double value, double middle, double scale) { return 1 / (1 + std::exp(-(value - middle) / scale)); }

int severity_of(double value, double from_2, double from_3, double from_4) {
  return 1 + static_cast<int>(value >= from_2) + static_cast<int>(value >= from_3) + static_cast<int>(value >= from_4);
}

}  // namespace papillote::condition
