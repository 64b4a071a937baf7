#include "stages/lines/kinds.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <opencv2/imgproc.hpp>

namespace papillote::lines {
namespace {

#include "stages/lines/kind_weights.inc"

struct Mark {
  double u0 = 1e18, u1 = -1e18, v0 = 1e18, v1 = -1e18, ink = 0;
};

double median(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

std::vector<Mark> marks_of(const InkLine& line, const Axes& axes, cv::Mat& picture) {
  const cv::Rect box = cv::boundingRect(line.ink);
  picture = cv::Mat::zeros(box.size() + cv::Size(2, 2), CV_8U);
  const cv::Point corner = box.tl() - cv::Point(1, 1);
  for (const cv::Point& p : line.ink) picture.at<std::uint8_t>(p - corner) = 255;
  cv::Mat labels;
  std::vector<Mark> marks(static_cast<std::size_t>(cv::connectedComponents(picture, labels, 8, CV_32S)));
  for (const cv::Point& p : line.ink) {
    Mark& mark = marks[static_cast<std::size_t>(labels.at<int>(p - corner))];
    const double u = axes.u(p), v = axes.v(p);
    mark.u0 = std::min(mark.u0, u - 0.5);
    mark.u1 = std::max(mark.u1, u + 0.5);
    mark.v0 = std::min(mark.v0, v - 0.5);
    mark.v1 = std::max(mark.v1, v + 0.5);
    ++mark.ink;
  }
  marks.erase(marks.begin());
  std::sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.u0 < b.u0; });
  return marks;
}

// Highest autocorrelation of the ink's profile along the line, at distances that letters of this height can have.
double pitch_regularity(const InkLine& line, const Axes& axes, double px_per_mm) {
  const double cell = std::max(1.0, px_per_mm / 8);
  std::vector<double> profile(static_cast<std::size_t>(line.length() / cell) + 1);
  for (const cv::Point& p : line.ink) profile[std::min(profile.size() - 1, static_cast<std::size_t>(std::max(0.0, (axes.u(p) - line.u0) / cell)))] += 1;
  const double mean = std::accumulate(profile.begin(), profile.end(), 0.0) / static_cast<double>(profile.size());
  double power = 1e-9;
  for (double& value : profile) {
    value -= mean;
    power += value * value;
  }
  const auto least = static_cast<std::size_t>(1.2 * px_per_mm / cell), most = static_cast<std::size_t>(3.6 * px_per_mm / cell);
  double best = 0;
  for (std::size_t lag = least; lag <= most && 3 * lag < profile.size(); ++lag) {
    double once = 0, twice = 0;
    for (std::size_t i = 0; i + lag < profile.size(); ++i) once += profile[i] * profile[i + lag];
    for (std::size_t i = 0; i + 2 * lag < profile.size(); ++i) twice += profile[i] * profile[i + 2 * lag];
    best = std::max(best, (once + twice) / (2 * power));
  }
  return best;
}

// Strokes met along the middle of the line, on the average of three rows.
double crossings_of(const InkLine& line, const Axes& axes) {
  const int columns = static_cast<int>(line.length()) + 1;
  cv::Mat rows = cv::Mat::zeros(3, columns, CV_8U);
  for (const cv::Point& p : line.ink) {
    const double v = (axes.v(p) - line.v0) / line.height();
    const int row = static_cast<int>(std::lround((v - 0.35) / 0.15));
    if (row < 0 || row > 2 || std::abs(v - 0.35 - 0.15 * row) > 0.04) continue;
    rows.at<std::uint8_t>(row, std::clamp(static_cast<int>(axes.u(p) - line.u0), 0, columns - 1)) = 1;
  }
  int crossings = 0;
  for (int y = 0; y < rows.rows; ++y)
    for (int x = 1; x < columns; ++x) crossings += rows.at<std::uint8_t>(y, x) != 0 && rows.at<std::uint8_t>(y, x - 1) == 0 ? 1 : 0;
  return crossings / 3.0;
}

}  // namespace

std::array<double, Traits::kCount> Traits::values() const {
  const auto log = [](double x) { return std::log(std::max(1e-2, x)); };
  return {log(height_mm), log(slimness), filled * 4,    std::min(crossings, 4.0) / 2, log(marks + 0.05), joined,   ragged_foot * 5,
          even_height,    even_pitch * 2, log(stroke_mm), stroke_spread * 2,           colour * 4,        contrast * 2, edge_mm / 5};
}

Traits traits_of(const InkLine& line, const InkMap& map) {
  const Axes axes(line.along_deg);
  cv::Mat picture;
  const auto marks = marks_of(line, axes, picture);
  Traits t;
  t.height_mm = line.height() / map.px_per_mm;
  if (marks.empty() || line.height() <= 0) return t;
  t.slimness = line.length() / line.height();
  t.filled = static_cast<double>(line.ink.size()) / (line.length() * line.height());
  t.marks = static_cast<double>(marks.size()) / std::max(1.0, t.slimness);
  t.crossings = crossings_of(line, axes) / std::max(1.0, t.slimness);

  double ink = 0, joined = 0;
  std::vector<double> heights, feet;
  for (const Mark& mark : marks) {
    ink += mark.ink;
    joined += mark.ink * std::min(4.0, (mark.u1 - mark.u0) / std::max(1.0, mark.v1 - mark.v0));
    if (mark.v1 - mark.v0 < 0.25 * line.height()) continue;
    heights.push_back(mark.v1 - mark.v0);
    feet.push_back(mark.v1);
  }
  t.joined = joined / ink;
  const double foot = median(feet);
  std::vector<double> away;
  for (const double f : feet) away.push_back(std::abs(f - foot) / line.height());
  t.ragged_foot = away.empty() ? 0.5 : std::accumulate(away.begin(), away.end(), 0.0) / static_cast<double>(away.size());
  const double usual = median(heights);
  double even = 0;
  for (const double h : heights) even += std::abs(h - usual) < 0.08 * usual ? 1 : 0;
  t.even_height = heights.empty() ? 0 : even / static_cast<double>(heights.size());
  t.even_pitch = pitch_regularity(line, axes, map.px_per_mm);

  cv::Mat distance;
  cv::distanceTransform(picture, distance, cv::DIST_L2, 3);
  cv::Scalar mean, deviation;
  cv::meanStdDev(distance, mean, deviation, picture);
  // The mean distance to the edge is a quarter of a stroke's thickness.
  t.stroke_mm = 4 * std::max(0.1, mean[0] - 0.5) / map.px_per_mm;
  t.stroke_spread = deviation[0] / std::max(0.5, mean[0]);

  double colour = 0, contrast = 0;
  for (const cv::Point& p : line.ink) {
    const auto& missing = map.missing.at<cv::Vec3f>(p);
    const auto [low, high] = std::minmax({missing[0], missing[1], missing[2]});
    colour += high - low;
    contrast += high;
  }
  t.colour = contrast > 0 ? colour / contrast : 0;
  t.contrast = contrast / static_cast<double>(line.ink.size());

  constexpr double kFar_mm = 10;
  cv::Mat to_border;
  const cv::Rect near = (cv::boundingRect(line.ink) + cv::Size(2, 2)) & cv::Rect(cv::Point(), map.inside.size());
  const int reach = static_cast<int>(kFar_mm * map.px_per_mm);
  const cv::Rect wide = cv::Rect(near.x - reach, near.y - reach, near.width + 2 * reach, near.height + 2 * reach) &
                        cv::Rect(cv::Point(), map.inside.size());
  cv::distanceTransform(map.inside(wide), to_border, cv::DIST_L2, 3);
  double edge = kFar_mm;
  for (const cv::Point& p : line.ink) edge = std::min(edge, static_cast<double>(to_border.at<float>(p - wide.tl())) / map.px_per_mm);
  t.edge_mm = edge;
  return t;
}

KindGuess guess_kind(const Traits& traits) {
  const auto values = traits.values();
  std::array<double, kHidden> hidden{};
  for (std::size_t h = 0; h < kHidden; ++h) {
    double sum = kFirstBias[h];
    for (std::size_t i = 0; i < values.size(); ++i) sum += kFirst[h][i] * (values[i] - kMean[i]) / kDeviation[i];
    hidden[h] = std::tanh(sum);
  }
  std::array<double, 5> odds{};
  for (std::size_t k = 0; k < odds.size(); ++k)
    odds[k] = std::exp(kSecondBias[k] + std::inner_product(hidden.begin(), hidden.end(), kSecond[k].begin(), 0.0));
  constexpr std::array kKinds{LineKind::handwritten, LineKind::typed, LineKind::printed, LineKind::stamped};  // then: no writing
  const double writing = std::accumulate(odds.begin(), odds.begin() + kKinds.size(), 0.0);
  const auto best = std::max_element(odds.begin(), odds.begin() + kKinds.size());
  return {kKinds[static_cast<std::size_t>(best - odds.begin())], *best / writing, writing / (writing + odds.back())};
}

}  // namespace papillote::lines
