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

namespace {

// Light below one hundredth is noise: its logarithm would be noise enlarged.
float log_light(double coded) {
  const double light = coded <= 0.04045 ? coded / 12.92 : std::pow((coded + 0.055) / 1.055, 2.4);
  return static_cast<float>(std::log(std::max(light, 0.01)));
}

// Which tones around the paper are the table's: a tone of few samples may be a leg or a crumb, and a tone rare in the whole
// photograph a card or a slip.
std::vector<bool> tones_of_table(const View& view, const cv::Mat& centres, const std::vector<int>& counts) {
  int all = 0;
  for (const int count : counts) all += count;
  std::vector<bool> known(counts.size());
  std::vector<double> share(counts.size());
  for (std::size_t k = 0; k < counts.size(); ++k) {
    const int row = static_cast<int>(k);
    int alike = 0;
    for (const cv::Vec3f& sample : view.table_samples) {
      const cv::Vec3f difference = cv::Vec3f(0.5F * sample[0], sample[1], sample[2]) - cv::Vec3f(centres.at<float>(row, 0), centres.at<float>(row, 1), centres.at<float>(row, 2));
      alike += static_cast<int>(difference.dot(difference) < 7 * 7);
    }
    share[k] = view.table_samples.empty() ? 1.0 : alike / static_cast<double>(view.table_samples.size());
    known[k] = counts[k] * 20 >= all && share[k] > 0.2;
  }
  if (std::find(known.begin(), known.end(), true) == known.end())
    known[static_cast<std::size_t>(std::max_element(share.begin(), share.end()) - share.begin())] = true;
  return known;
}

}  // namespace

cv::Mat density_above_tone(const View& view) {
  cv::Mat small;
  cv::resize(view.tone, small, {}, 0.25, 0.25, cv::INTER_AREA);
  cv::cvtColor(small, small, cv::COLOR_Lab2BGR);
  for (int y = 0; y < small.rows; ++y)
    for (int x = 0; x < small.cols; ++x)
      for (int c = 0; c < 3; ++c) small.at<cv::Vec3f>(y, x)[c] = log_light(small.at<cv::Vec3f>(y, x)[c]);
  cv::Mat density;
  cv::resize(small, density, view.bgr.size(), 0, 0, cv::INTER_LINEAR);
  cv::Mat table(1, 256, CV_32F);
  for (int i = 0; i < 256; ++i) table.at<float>(i) = log_light(i / 255.0);
  cv::Mat here;
  cv::LUT(view.bgr, table, here);
  density -= here;
  return density;
}

cv::Mat distance_from_table(const View& view) {
  cv::Mat table;
  cv::bitwise_or(view.paper, view.others, table);
  cv::dilate(table, table, cv::getStructuringElement(cv::MORPH_RECT, {2 * cvRound(view.unit_px) + 1, 2 * cvRound(view.unit_px) + 1}));
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
  const std::vector<bool> known = tones_of_table(view, centres, counts);
  std::vector<cv::Vec3f> tones_of_it;
  for (int k = 0; k < tones; ++k)
    if (known[static_cast<std::size_t>(k)]) tones_of_it.emplace_back(centres.at<float>(k, 0), centres.at<float>(k, 1), centres.at<float>(k, 2));
  for (int y = 0; y < distance.rows; ++y) {
    const auto* lab = view.lab.ptr<cv::Vec3f>(y);
    auto* out = distance.ptr<float>(y);
    for (int x = 0; x < distance.cols; ++x) {
      float least = 100 * 100;
      for (const cv::Vec3f& tone : tones_of_it) {
        const float dl = 0.5F * lab[x][0] - tone[0];
        const float da = lab[x][1] - tone[1];
        const float db = lab[x][2] - tone[2];
        least = std::min(least, dl * dl + da * da + db * db);
      }
      out[x] = std::sqrt(least);
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

cv::Mat mask_of(const Region& region) {
  cv::Mat own = cv::Mat::zeros(region.box.size(), CV_8U);
  cv::drawContours(own, std::vector<std::vector<cv::Point>>{region.contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0,
                   -region.box.tl());
  return own;
}

cv::Mat bare_paper(const View& view, double rim_px) {
  cv::Mat depth;
  cv::Mat framed = view.paper.clone();
  cv::rectangle(framed, cv::Rect(0, 0, framed.cols, framed.rows), cv::Scalar(0));
  cv::distanceTransform(framed, depth, cv::DIST_L2, 3);
  cv::Mat bare = depth > rim_px;
  bare.setTo(0, view.ink);
  bare.setTo(0, view.others);
  return bare;
}

double rim_sharpness(const View& view, const Region& region) {
  const cv::Rect frame(0, 0, view.density.cols, view.density.rows);
  const cv::Rect box = (region.box + cv::Size(6, 6) - cv::Point(3, 3)) & frame;
  cv::Mat green;
  cv::extractChannel(view.density(box), green, 1);
  cv::Mat gradient_x;
  cv::Mat gradient_y;
  cv::Sobel(green, gradient_x, CV_32F, 1, 0, 3, 1.0 / 8);
  cv::Sobel(green, gradient_y, CV_32F, 0, 1, 3, 1.0 / 8);
  cv::Mat steep;
  cv::magnitude(gradient_x, gradient_y, steep);
  cv::dilate(steep, steep, cv::Mat());
  double sum = 0;
  for (const cv::Point& p : region.contour) sum += steep.at<float>(p - box.tl());
  cv::Mat core = mask_of(region);
  const double own = cv::mean(view.density(region.box), core)[1];
  return sum / static_cast<double>(region.contour.size()) / std::max(own, 0.05);
}

std::vector<Spot> spots_on(const View& view, const cv::Mat& where, double least_density, double least_mm, double most_mm,
                            double least_solidity) {
  const double unit = view.unit_px;
  cv::Mat smooth;
  cv::GaussianBlur(view.density, smooth, {}, 0.1 * unit);
  cv::Mat dark = cv::Mat::zeros(where.size(), CV_8U);
  // Fibres and texture are the paper's own noise.
  std::vector<float> noise;
  for (int y = 0; y < dark.rows; y += 5)
    for (int x = 0; x < dark.cols; x += 5)
      if (where.at<uchar>(y, x) != 0) noise.push_back(std::abs(0.5F * (smooth.at<cv::Vec3f>(y, x)[0] + smooth.at<cv::Vec3f>(y, x)[1])));
  if (noise.size() < 20) return {};
  std::nth_element(noise.begin(), noise.begin() + static_cast<std::ptrdiff_t>(noise.size() * 3 / 5), noise.end());
  const float sigma = noise[noise.size() * 3 / 5] / 0.84F;
  const float least = std::max(static_cast<float>(least_density), 3.5F * sigma);
  for (int y = 0; y < dark.rows; ++y)
    for (int x = 0; x < dark.cols; ++x) {
      const cv::Vec3f& d = smooth.at<cv::Vec3f>(y, x);
      if (where.at<uchar>(y, x) != 0 && 0.5F * (d[0] + d[1]) > least) dark.at<uchar>(y, x) = 255;
    }
  std::vector<Spot> spots;
  for (Region& region : regions_of(dark, 0.7 * least_mm * least_mm * unit * unit)) {
    if (region.length_px > most_mm * unit) continue;
    if (region.solidity < least_solidity || region.width_px < 0.42 * region.length_px) continue;
    const cv::Scalar mean = cv::mean(smooth(region.box), mask_of(region));
    Spot spot;
    spot.density = cv::Vec3f(static_cast<float>(mean[0]), static_cast<float>(mean[1]), static_cast<float>(mean[2]));
    spot.brownness = mean[0] / std::max(mean[2], 0.03);
    spot.region = std::move(region);
    spots.push_back(std::move(spot));
  }
  return spots;
}

std::vector<std::vector<Spot>> grouped(const View& view, const std::vector<Spot>& spots, double reach_px, std::size_t least_count) {
  cv::Mat near = cv::Mat::zeros(view.paper.size(), CV_8U);
  for (const Spot& spot : spots)
    cv::circle(near, spot.region.centre, cvRound(reach_px / 2 + spot.region.length_px / 2), cv::Scalar(255), cv::FILLED);
  cv::Mat labels;
  const int count = cv::connectedComponents(near, labels);
  std::vector<std::vector<Spot>> groups(static_cast<std::size_t>(count));
  for (const Spot& spot : spots) {
    const int x = std::clamp(cvRound(spot.region.centre.x), 0, labels.cols - 1);
    const int y = std::clamp(cvRound(spot.region.centre.y), 0, labels.rows - 1);
    groups[static_cast<std::size_t>(labels.at<int>(y, x))].push_back(spot);
  }
  std::erase_if(groups, [&](const std::vector<Spot>& group) { return group.size() < least_count; });
  return groups;
}

Polygon hull_of(const std::vector<Spot>& spots) {
  std::vector<Region> regions;
  for (const Spot& spot : spots) regions.push_back(spot.region);
  return hull_of(regions);
}

cv::Mat foreign_objects(const View& view) {
  const double unit = view.unit_px;
  cv::Mat objects = view.from_table > 11;
  objects.setTo(0, view.paper | view.others);
  cv::Mat foreign = cv::Mat::zeros(objects.size(), CV_8U);
  const cv::Rect frame(0, 0, objects.cols, objects.rows);
  cv::Mat near_paper;
  cv::Mat off_paper = ~view.paper;
  cv::distanceTransform(off_paper, near_paper, cv::DIST_L2, 3);
  for (const Region& region : regions_of(objects, 0.5 * unit * unit)) {
    const bool leaves = region.box.x <= 1 || region.box.y <= 1 || region.box.br().x >= frame.width - 1 || region.box.br().y >= frame.height - 1;
    const double filled = region.area_px / (region.length_px * region.width_px);
    const bool card = filled > 0.8 && region.width_px > 4.5 * unit && region.length_px > 9 * unit;
    const bool joint = region.width_px < 1.5 * unit && region.length_px > 7 * unit;
    double nearest = 0;
    cv::minMaxLoc(near_paper(region.box), &nearest, nullptr, nullptr, nullptr, mask_of(region));
    const bool apart = nearest > 1.5 * unit;
    if (card || joint || (leaves && (apart || region.width_px > 16 * unit || region.length_px > 26 * unit)))
      cv::drawContours(foreign, std::vector<std::vector<cv::Point>>{region.contour}, 0, cv::Scalar(255), cv::FILLED);
  }
  cv::dilate(foreign, foreign, cv::getStructuringElement(cv::MORPH_RECT, {cvRound(unit) | 1, cvRound(unit) | 1}));
  foreign.setTo(0, view.paper);
  return foreign;
}

cv::Mat stray_matter(const View& view) {
  const double unit = view.unit_px;
  cv::Mat around;
  cv::bitwise_or(view.paper, view.others, around);
  // The outline is good to half a millimetre; neighbours' edges need a little more room.
  cv::Mat near_others;
  cv::dilate(view.others, near_others, cv::getStructuringElement(cv::MORPH_RECT, {2 * cvRound(unit) + 1, 2 * cvRound(unit) + 1}));
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
  cv::dilate(edges, edges, cv::getStructuringElement(cv::MORPH_RECT, {cvRound(unit) | 1, cvRound(unit) | 1}));
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
  cv::erode(whole, core, cv::getStructuringElement(cv::MORPH_RECT, {rim, rim}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
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
