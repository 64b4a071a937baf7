#include "stages/condition/marks.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace papillote::condition {
namespace {

constexpr int kFiner = 2;  // contours are drawn between the net's coarse pixels

// Cuts each region where it is narrower than this share of its own widest place, so that discs that touch become regions of their own.
void cut_at_necks(cv::Mat& within) {
  constexpr double kNeck = 0.75;
  cv::Mat inner;
  cv::distanceTransform(within, inner, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  cv::Mat regions, stats, centres;
  const int count = cv::connectedComponentsWithStats(within, regions, stats, centres, 8, CV_32S);
  for (int i = 1; i < count; ++i) {
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP), stats.at<int>(i, cv::CC_STAT_WIDTH),
                       stats.at<int>(i, cv::CC_STAT_HEIGHT));
    const cv::Mat own = regions(box) == i;
    double widest = 0;
    cv::minMaxLoc(inner(box), nullptr, &widest, nullptr, nullptr, own);
    const cv::Mat cores = (inner(box) > kNeck * widest) & own;
    cv::Mat labels;
    if (cv::connectedComponents(cores, labels) < 3) continue;
    // Every pixel goes to the core that is nearest; the seam between two of them is taken out.
    cv::Mat away, nearest;
    cv::distanceTransform(~cores, away, nearest, cv::DIST_L2, cv::DIST_MASK_5, cv::DIST_LABEL_CCOMP);
    cv::Mat least, most;
    nearest.convertTo(nearest, CV_32F);
    cv::erode(nearest, least, {});
    cv::dilate(nearest, most, {});
    within(box).setTo(0, own & (least != most));
  }
}

}  // namespace

Polygon Mark::polygon() const {
  std::vector<cv::Point> simple;
  cv::convexHull(core, simple);
  if (simple.size() < 3) {
    const cv::Rect around = cv::boundingRect(core);
    simple = {around.tl(), {around.br().x, around.y}, around.br(), {around.x, around.br().y}};
  }
  Polygon out;
  for (const cv::Point& p : simple) out.push_back({(p.x + 0.5) / kFiner, (p.y + 0.5) / kFiner});
  return out;
}

std::vector<Mark> marks_of(const View& view, Damage kind, double join) {
  const cv::Mat& odds = view.odds.at(static_cast<std::size_t>(kind));
  cv::Mat scores;
  cv::blur(odds, scores, join > 0 ? cv::Size(3, 3) : cv::Size(1, 1));
  double best = 0;
  cv::minMaxLoc(scores, nullptr, &best);
  if (best < kLeastOdds) return {};
  cv::Mat fine;
  cv::resize(odds, fine, {}, kFiner, kFiner, cv::INTER_CUBIC);
  cv::Mat within = fine > kLeastOdds;
  const double unit = view.unit_px * kFiner;
  if (const int gap = cvRound(join * unit) | 1; gap > 1) {
    const int edge = gap;
    cv::copyMakeBorder(within, within, edge, edge, edge, edge, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::morphologyEx(within, within, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_ELLIPSE, {gap, gap}));
    within = within(cv::Rect(edge, edge, fine.cols, fine.rows)).clone();
  }
  if (join == 0) cut_at_necks(within);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(within, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);

  std::vector<Mark> marks;
  for (auto& contour : contours) {
    Mark mark;
    const cv::Rect whole = cv::boundingRect(contour);
    mark.box = cv::Rect(cv::Point(whole.x / kFiner, whole.y / kFiner), cv::Point((whole.br().x - 1) / kFiner + 1, (whole.br().y - 1) / kFiner + 1)) &
               cv::Rect(cv::Point(), odds.size());
    if (mark.box.empty()) continue;
    cv::Mat own = cv::Mat::zeros(whole.size(), CV_8U);
    cv::drawContours(own, std::vector<std::vector<cv::Point>>{contour}, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0, -whole.tl());
    cv::Mat coarse = cv::Mat::zeros(mark.box.size(), CV_8U);
    for (int y = 0; y < coarse.rows; ++y)
      for (int x = 0; x < coarse.cols; ++x) {
        const cv::Point p = cv::Point((mark.box.x + x) * kFiner + kFiner / 2, (mark.box.y + y) * kFiner + kFiner / 2) - whole.tl();
        if (cv::Rect(cv::Point(), own.size()).contains(p)) coarse.at<std::uint8_t>(y, x) = own.at<std::uint8_t>(p);
      }
    if (cv::countNonZero(coarse) == 0) coarse = 255;
    cv::minMaxLoc(scores(mark.box), nullptr, &mark.score, nullptr, nullptr, coarse);
    cv::minMaxLoc(view.depth_px(mark.box), nullptr, &mark.depth, nullptr, nullptr, coarse);
    cv::minMaxLoc(view.reach_px(mark.box), nullptr, &mark.reach, nullptr, nullptr, coarse);
    mark.depth /= view.unit_px;
    mark.reach /= view.unit_px;
    const cv::RotatedRect around = cv::minAreaRect(contour);
    mark.length = (std::max(around.size.width, around.size.height) + 1) / unit;
    mark.width = (std::min(around.size.width, around.size.height) + 1) / unit;
    mark.area = cv::countNonZero(own) / (unit * unit);
    mark.radius = std::sqrt(mark.area / 3.14159);
    // The core of a strong mark is where its odds are better than even.
    cv::findNonZero(own & (fine(whole) > std::clamp(mark.score / 2 + kLeastOdds, kLeastOdds, 0.0)), mark.core);
    for (cv::Point& p : mark.core) p += whole.tl();
    if (mark.core.empty()) mark.core = std::move(contour);
    marks.push_back(std::move(mark));
  }
  std::stable_sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.score > b.score; });
  return marks;
}

Sign sign_of(const Mark& mark, double middle, double scale) {
  Sign sign;
  sign.region = mark.polygon();
  sign.confidence = 1 / (1 + std::exp(-(mark.score - middle) / scale));
  return sign;
}

int severity_of(double value, double from_2, double from_3, double from_4) {
  return 1 + static_cast<int>(value >= from_2) + static_cast<int>(value >= from_3) + static_cast<int>(value >= from_4);
}

}  // namespace papillote::condition
