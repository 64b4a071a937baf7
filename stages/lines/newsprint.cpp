#include "stages/lines/newsprint.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <opencv2/imgproc.hpp>

#include "stages/lines/kinds.h"

namespace papillote::lines {
namespace {

bool covered_with_print(const InkMap& map) {
  constexpr double kSmallest_mm = 0.7, kLargest_mm = 3.2, kReach_mm = 3.0;
  constexpr double kMarks_per_cm2 = 5, kCovered = 0.65;
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(map.ink, labels, stats, centres, 8, CV_32S);
  int small = 0;
  for (int i = 1; i < count; ++i) {
    const double size = std::max(stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT)) / map.px_per_mm;
    small += size > kSmallest_mm && size < kLargest_mm ? 1 : 0;
  }
  const double face_px = std::max(1, cv::countNonZero(map.inside));
  if (small < kMarks_per_cm2 * face_px / (100 * map.px_per_mm * map.px_per_mm)) return false;
  cv::Mat covered;
  const int reach = static_cast<int>(kReach_mm * map.px_per_mm) | 1;
  cv::dilate(map.ink, covered, cv::getStructuringElement(cv::MORPH_ELLIPSE, {reach, reach}));
  return cv::countNonZero(covered & map.inside) > kCovered * face_px;
}

float quantile(std::vector<float> values, double share) {
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

// Optical density in blue, green and red, lightly smoothed.
cv::Mat density_of(const InkMap& map) {
  cv::Mat missing, density(map.missing.size(), CV_32FC3);
  cv::GaussianBlur(map.missing, missing, {0, 0}, 0.1 * map.px_per_mm);
  for (int y = 0; y < density.rows; ++y)
    for (int x = 0; x < density.cols; ++x)
      for (int c = 0; c < 3; ++c)
        density.at<cv::Vec3f>(y, x)[c] = -std::log(1 - std::min(0.98F, missing.at<cv::Vec3f>(y, x)[c]));
  return density;
}

// Ink on top of the print: seeds in the middle of strokes, grown over the ink around them that is denser than print.
cv::Mat ink_on_top(const InkMap& map) {
  const cv::Mat density = density_of(map);
  cv::Mat highest;
  const int near = static_cast<int>(0.5 * map.px_per_mm) | 1;
  cv::dilate(map.contrast, highest, cv::Mat::ones(near, near, CV_8U));
  const cv::Mat middles = (map.contrast > 0.9 * highest) & map.ink;
  std::vector<float> strengths;
  std::vector<cv::Point> points;
  cv::findNonZero(middles, points);
  if (points.empty()) return cv::Mat::zeros(map.ink.size(), CV_8U);
  for (const cv::Point& p : points) strengths.push_back(static_cast<float>(cv::norm(density.at<cv::Vec3f>(p))));
  const float usual = quantile(strengths, 0.45), spread = std::max(0.2F * usual, usual - quantile(strengths, 0.10));
  cv::Vec3f hue(0, 0, 0);
  for (std::size_t i = 0; i < points.size(); ++i)
    if (std::abs(strengths[i] - usual) < 0.25F * usual) hue += density.at<cv::Vec3f>(points[i]) / strengths[i];
  hue /= std::max(1e-6F, static_cast<float>(cv::norm(hue)));

  constexpr float kSeed = 2.0F, kGrown = 1.0F;  // spreads of the print above its usual density
  constexpr float kOtherHue_deg = 6;
  const auto turned_deg = [&](const cv::Vec3f& d, float strength) {
    return std::acos(std::min(1.0F, d.dot(hue) / std::max(1e-6F, strength))) * 180.0F / std::numbers::pi_v<float>;
  };
  cv::Mat away;  // toning at the paper's edge has a hue of its own
  cv::distanceTransform(map.inside, away, cv::DIST_L2, 3);
  const double edge_px = 2.0 * map.px_per_mm;
  cv::Mat seeds = cv::Mat::zeros(map.ink.size(), CV_8U), body = seeds.clone();
  for (int y = 0; y < map.ink.rows; ++y)
    for (int x = 0; x < map.ink.cols; ++x) {
      if (map.ink.at<std::uint8_t>(y, x) == 0) continue;
      const auto& d = density.at<cv::Vec3f>(y, x);
      const auto strength = static_cast<float>(cv::norm(d));
      const bool inner = static_cast<double>(away.at<float>(y, x)) > edge_px;
      const bool other_hue = inner && strength > 0.75F * usual && turned_deg(d, strength) > kOtherHue_deg;
      if (other_hue || strength > usual + kGrown * spread) body.at<std::uint8_t>(y, x) = 255;
      if (middles.at<std::uint8_t>(y, x) != 0 && (other_hue || strength > usual + kSeed * spread)) seeds.at<std::uint8_t>(y, x) = 255;
    }
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(body, labels, stats, centres, 8, CV_32S);
  std::vector<int> seeded(static_cast<std::size_t>(count));
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x)
      if (seeds.at<std::uint8_t>(y, x) != 0) ++seeded[static_cast<std::size_t>(labels.at<int>(y, x))];
  constexpr double kLeast_mm2 = 0.12;
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x) {
      const int label = labels.at<int>(y, x);
      if (label != 0 && (seeded[static_cast<std::size_t>(label)] < 2 ||
                         stats.at<int>(label, cv::CC_STAT_AREA) < kLeast_mm2 * map.px_per_mm * map.px_per_mm))
        body.at<std::uint8_t>(y, x) = 0;
    }
  return body;
}

}  // namespace

std::optional<PrintedPaper> split_newsprint(const InkMap& map) {
  if (!covered_with_print(map)) return std::nullopt;
  PrintedPaper paper;
  paper.annotation = ink_on_top(map);
  cv::Mat around;
  const int reach = static_cast<int>(0.3 * map.px_per_mm) | 1;
  cv::dilate(paper.annotation, around, cv::getStructuringElement(cv::MORPH_ELLIPSE, {reach, reach}));
  cv::Mat print = map.ink & ~around;
  std::vector<cv::Point> points;
  cv::findNonZero(print, points);
  if (points.empty()) return std::nullopt;
  paper.along_deg = directions_of(points, map.px_per_mm).front();
  paper.print = lines_along(points, paper.along_deg, map.px_per_mm);

  // Headings: dense type along the print, on paper that the body leaves free.
  const double print_share = static_cast<double>(points.size()) / std::max(1, cv::countNonZero(map.inside));
  for (InkLine& line : group_ink(paper.annotation, map.px_per_mm, kBroken)) {
    constexpr double kParallel_deg = 3, kFree = 0.15;
    if (std::abs(std::remainder(line.along_deg - paper.along_deg, 180.0)) > kParallel_deg) continue;
    if (const KindGuess guess = guess_kind(traits_of(line, map)); guess.kind == LineKind::handwritten) continue;
    cv::Mat own = cv::Mat::zeros(map.ink.size(), CV_8U);  // the heading's own pale edges are no body type
    for (const cv::Point& p : line.ink) own.at<std::uint8_t>(p) = 255;
    const int clear = static_cast<int>(1.0 * map.px_per_mm) | 1;
    cv::dilate(own, own, cv::getStructuringElement(cv::MORPH_ELLIPSE, {clear, clear}));
    const Axes axes(line.along_deg);
    int on_body = 0;
    for (const cv::Point& p : points) {
      const double u = axes.u(p), v = axes.v(p);
      on_body += u > line.u0 && u < line.u1 && v > line.v0 && v < line.v1 && own.at<std::uint8_t>(p) == 0 ? 1 : 0;
    }
    if (on_body > kFree * print_share * line.length() * line.height()) continue;
    for (const cv::Point& p : line.ink) paper.annotation.at<std::uint8_t>(p) = 0;
    paper.print.push_back(std::move(line));
  }
  return paper;
}

}  // namespace papillote::lines
