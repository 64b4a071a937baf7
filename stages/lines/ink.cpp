#include "stages/lines/ink.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace papillote::lines {
namespace {

cv::Mat ellipse(double diameter_px) {
  const int size = std::max(3, static_cast<int>(std::lround(diameter_px)) | 1);
  return cv::getStructuringElement(cv::MORPH_ELLIPSE, {size, size});
}

// Share of the paper's light that is missing, per channel. What lies outside the face is never taken for paper.
cv::Mat missing_light(const cv::Mat& bgr, const cv::Mat& face, double px_per_mm) {
  constexpr double kWiderThanStrokes_mm = 2.2;
  const cv::Mat brush = ellipse(kWiderThanStrokes_mm * px_per_mm);
  const cv::Size smooth(brush.cols / 2 | 1, brush.cols / 2 | 1);
  cv::Mat weight;
  face.convertTo(weight, CV_32F, 1 / 255.0);
  cv::blur(weight, weight, smooth);
  cv::max(weight, 1e-3, weight);
  std::array<cv::Mat, 3> channels;
  cv::split(bgr, channels.data());
  for (cv::Mat& channel : channels) {
    cv::Mat value, paper;
    cv::GaussianBlur(channel, value, {3, 3}, 0.6);
    value.setTo(0, face == 0);
    cv::morphologyEx(value, paper, cv::MORPH_CLOSE, brush);
    paper.setTo(0, face == 0);
    paper.convertTo(paper, CV_32F);
    cv::blur(paper, paper, smooth);
    cv::divide(paper, weight, paper);
    value.convertTo(value, CV_32F);
    paper = cv::max(paper, 1.0);
    channel = cv::max(1.0 - value / paper, 0.0);
    channel.setTo(0, face == 0);
  }
  cv::Mat missing;
  cv::merge(channels.data(), channels.size(), missing);
  return missing;
}

// Quantile of contrast over the face, from a histogram of 1/500.
double quantile(const cv::Mat& contrast, const cv::Mat& inside, double share) {
  std::array<int, 500> count{};
  int all = 0;
  for (int y = 0; y < contrast.rows; ++y)
    for (int x = 0; x < contrast.cols; ++x)
      if (inside.at<std::uint8_t>(y, x) != 0) {
        ++count[static_cast<std::size_t>(std::clamp(contrast.at<float>(y, x) * 500.0F, 0.0F, 499.0F))];
        ++all;
      }
  int seen = 0;
  for (std::size_t i = 0; i < count.size(); ++i)
    if ((seen += count[i]) >= share * all) return (static_cast<double>(i) + 0.5) / 500;
  return 1;
}

// Marks that are straight, thin all along and at least `shortest_mm` long, without the places where something crosses them.
cv::Mat straight_marks(const cv::Mat& ink, double shortest_mm, double px_per_mm) {
  // Letters cross a ruled line and thicken it there, so that a long one need not be thin all along. A row of letters has ink on both sides of its middle.
  constexpr double kCovered = 0.88, kLong_mm = 20, kLongCovered = 0.62, kThickest_mm = 0.7;
  constexpr double kBeside_mm = 0.75, kMostBeside = 0.35;
  const int thickest = std::max(3, static_cast<int>(std::lround(kThickest_mm * px_per_mm)));
  const double beside_px = kBeside_mm * px_per_mm;
  std::vector<cv::Vec4i> segments;
  cv::HoughLinesP(ink, segments, 1, CV_PI / 360, static_cast<int>(shortest_mm * px_per_mm * 0.7), shortest_mm * px_per_mm,
                  1.5 * px_per_mm);
  cv::Mat erased = cv::Mat::zeros(ink.size(), CV_8U);
  for (const cv::Vec4i& s : segments) {
    const cv::Point2d from(s[0], s[1]), to(s[2], s[3]);
    const double length = cv::norm(to - from);
    const cv::Point2d along = (to - from) / length, across(-along.y, along.x);
    const auto ink_at = [&](cv::Point2d p) {
      const cv::Point q(cvRound(p.x), cvRound(p.y));
      return q.x >= 0 && q.y >= 0 && q.x < ink.cols && q.y < ink.rows && ink.at<std::uint8_t>(q) != 0;
    };
    const int steps = static_cast<int>(length);
    std::vector<std::pair<cv::Point2d, cv::Point2d>> thin;  // runs across the mark
    int beside = 0;
    for (int i = 0; i <= steps; ++i) {
      cv::Point2d at = from + along * i;
      beside += (ink_at(at + across * beside_px) ? 1 : 0) + (ink_at(at - across * beside_px) ? 1 : 0);
      // The segment may run one pixel beside the mark's middle.
      if (!ink_at(at)) {
        if (ink_at(at + across))
          at += across;
        else if (ink_at(at - across))
          at -= across;
        else
          continue;
      }
      int up = 0, down = 0;
      while (up <= thickest && ink_at(at + across * (up + 1))) ++up;
      while (down <= thickest && ink_at(at - across * (down + 1))) ++down;
      if (up + down + 1 <= thickest) thin.emplace_back(at + across * (up + 0.5), at - across * (down + 0.5));
    }
    const double wanted = length > kLong_mm * px_per_mm ? kLongCovered : kCovered;
    if (static_cast<double>(thin.size()) < wanted * steps || beside > kMostBeside * 2 * steps) continue;
    for (const auto& [a, b] : thin) cv::line(erased, cv::Point(cvRound(a.x), cvRound(a.y)), cv::Point(cvRound(b.x), cvRound(b.y)), 255, 2);
  }
  return erased;
}

// Parts too thick for any pen or stamp: bodies and dark wings behind glassine, blots.
void erase_thick_parts(cv::Mat& ink, double px_per_mm) {
  constexpr double kThickestStroke_mm = 1.7;
  cv::Mat thick;
  cv::morphologyEx(ink, thick, cv::MORPH_OPEN, ellipse(kThickestStroke_mm * px_per_mm));
  cv::dilate(thick, thick, ellipse(0.5 * px_per_mm));
  ink.setTo(0, thick);
}

// Marks that are one stroke and longer than any dash of a text: creases, rules, antennae. Crumbs go too.
void erase_lone_strokes(cv::Mat& ink, double px_per_mm) {
  constexpr double kLongestStroke_mm = 7, kCrumb_mm2 = 0.06, kWinding = 1.3;
  cv::Mat labels, stats, centres, distance;
  const int count = cv::connectedComponentsWithStats(ink, labels, stats, centres, 8, CV_32S);
  cv::distanceTransform(ink, distance, cv::DIST_L2, 3);
  std::vector<double> depth(static_cast<std::size_t>(count));
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x) depth[static_cast<std::size_t>(labels.at<int>(y, x))] += static_cast<double>(distance.at<float>(y, x));
  std::vector<std::uint8_t> keep(static_cast<std::size_t>(count), 255);
  keep[0] = 0;
  for (int i = 1; i < count; ++i) {
    const double area = stats.at<int>(i, cv::CC_STAT_AREA);
    const double reach = std::hypot(stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    // The mean distance to the edge is a quarter of a stroke's thickness.
    const double thickness = std::max(1.0, 4 * (depth[static_cast<std::size_t>(i)] / area - 0.5));
    const bool lone_stroke = reach > kLongestStroke_mm * px_per_mm && area / thickness < kWinding * reach;
    const bool crumb = area < kCrumb_mm2 * px_per_mm * px_per_mm;
    if (lone_stroke || crumb) keep[static_cast<std::size_t>(i)] = 0;
  }
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x) ink.at<std::uint8_t>(y, x) = keep[static_cast<std::size_t>(labels.at<int>(y, x))];
}

}  // namespace

InkMap map_ink(const cv::Mat& bgr, const cv::Mat& face, double px_per_mm) {
  constexpr double kBorder_mm = 0.9;
  InkMap map;
  map.px_per_mm = px_per_mm;
  cv::Mat framed;  // the border of the cut-out counts as border of the envelope
  cv::copyMakeBorder(face, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  // One pixel or two of the table's colour reach over the edge.
  cv::Mat safe;
  cv::erode(framed, safe, ellipse(3));
  map.missing = missing_light(bgr, safe(cv::Rect(1, 1, face.cols, face.rows)), px_per_mm);
  std::array<cv::Mat, 3> channels;
  cv::split(map.missing, channels.data());
  map.contrast = cv::max(cv::max(channels[0], channels[1]), channels[2]);
  // How far the contrast falls within a third of a millimetre: a stroke loses nearly all of it, a stain almost none.
  cv::Mat lowest;
  cv::erode(map.contrast, lowest, ellipse(std::max(3.0, 0.7 * px_per_mm)));
  cv::erode(framed, framed, ellipse(2 * kBorder_mm * px_per_mm));
  map.inside = framed(cv::Rect(1, 1, face.cols, face.rows)).clone();
  map.contrast.setTo(0, map.inside == 0);

  const double paper = quantile(map.contrast, map.inside, 0.5);
  const double texture = std::max(0.006, quantile(map.contrast, map.inside, 0.5) - quantile(map.contrast, map.inside, 0.12));
  const double weak = std::clamp(paper + 3.5 * texture, 0.07, 0.30), strong = std::clamp(paper + 6.0 * texture, 0.11, 0.45);
  cv::Mat weak_ink = map.contrast > weak;
  const cv::Mat strong_ink = map.contrast > strong;
  // Rules and folds that cross the face are seen best while they are whole.
  constexpr double kRule_mm = 25, kMark_mm = 7;
  weak_ink.setTo(0, straight_marks(weak_ink, kRule_mm, px_per_mm));

  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(weak_ink, labels, stats, centres, 8, CV_32S);
  std::vector<int> strong_px(static_cast<std::size_t>(count)), edge_px(strong_px);
  std::vector<double> edge_sum(static_cast<std::size_t>(count)), top(edge_sum);
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x) {
      const auto label = static_cast<std::size_t>(labels.at<int>(y, x));
      if (label == 0 || strong_ink.at<std::uint8_t>(y, x) == 0) continue;
      ++strong_px[label];
      const double here = map.contrast.at<float>(y, x);
      edge_sum[label] += here - static_cast<double>(lowest.at<float>(y, x));
      top[label] += here;
      ++edge_px[label];
    }
  constexpr double kSharpEnough = 0.45;
  const double least_px = 0.06 * px_per_mm * px_per_mm;
  std::vector<std::uint8_t> keep(static_cast<std::size_t>(count));
  for (std::size_t i = 1; i < keep.size(); ++i) {
    const double area = stats.at<int>(static_cast<int>(i), cv::CC_STAT_AREA);
    keep[i] = area >= least_px && strong_px[i] > 0.08 * area && edge_sum[i] > kSharpEnough * top[i] ? 255 : 0;
  }
  map.ink = cv::Mat::zeros(labels.size(), CV_8U);
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x) map.ink.at<std::uint8_t>(y, x) = keep[static_cast<std::size_t>(labels.at<int>(y, x))];
  erase_thick_parts(map.ink, px_per_mm);
  map.ink.setTo(0, straight_marks(map.ink, kMark_mm, px_per_mm));
  erase_lone_strokes(map.ink, px_per_mm);
  return map;
}

}  // namespace papillote::lines
