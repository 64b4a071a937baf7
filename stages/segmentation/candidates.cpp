#include "stages/segmentation/candidates.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "stages/segmentation/background.h"
#include "stages/segmentation/edges.h"

namespace papillote::segmentation {
namespace {

constexpr double kLeastFill = 0.93;  // of a shape by its outline; torn corners and bent edges take some

using Contour = std::vector<cv::Point>;

// Outer outlines of the mask's parts, large enough for an envelope.
std::vector<Contour> outlines(const cv::Mat& mask, double least_area) {
  std::vector<Contour> contours;
  cv::findContours(mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  std::erase_if(contours, [&](const Contour& c) { return cv::contourArea(c) < least_area; });
  return contours;
}

cv::Mat opened(const cv::Mat& mask, int side) {
  cv::Mat out;
  cv::morphologyEx(mask, out, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side}));
  return out;
}

bool plausible(const Shape& shape, const SideLimits& limits) {
  const auto frame = frame_of(shape);
  if (frame.empty()) return false;
  const double a = cv::norm(frame[1] - frame[0]);
  const double b = cv::norm(frame[2] - frame[1]);
  constexpr double kMostSlender = 3.4;  // a ruler is longer
  // The height of a folded triangle on its longest side is half that side.
  const double least = shape.size() == 3 ? 0.7 * limits.least_px : limits.least_px;
  return std::min(a, b) >= least && std::max(a, b) <= 1.42 * limits.most_px && std::max(a, b) <= kMostSlender * std::min(a, b);
}

// What cannot be reached from the rim of the picture without crossing an edge.
cv::Mat enclosed(const EdgeMap& edges, const cv::Mat& ignore) {
  cv::Mat barrier = edges.any();
  barrier.setTo(0, ignore);
  cv::Mat reached;
  cv::copyMakeBorder(barrier, reached, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::floodFill(reached, {0, 0}, cv::Scalar(128));
  cv::Mat inside = reached != 128;
  return inside(cv::Rect(1, 1, barrier.cols, barrier.rows)).clone();
}

}  // namespace

std::vector<Candidate> find_candidates(const cv::Mat& bgr, const cv::Mat& ignore, const SideLimits& limits) {
  const Difference difference = difference_from_table(bgr, ignore);
  const EdgeMap edges(bgr);
  const std::vector<Segment> segments = straight_edges(bgr, 0.4 * limits.least_px);
  const double least_area = 0.4 * limits.least_px * limits.least_px;

  std::vector<Candidate> candidates;
  const auto take = [&](const cv::Mat& raw, int level, bool crowded) {
    cv::Mat mask = raw.clone();
    mask.setTo(0, ignore);
    mask = opened(mask, 5);
    for (const Contour& contour : outlines(mask, least_area)) {
      if (const auto single = fit_single(contour, kLeastFill); single && plausible(single->shape, limits)) {
        const double support = edges.support(single->shape);
        if (support > 0.4) candidates.push_back({single->shape, 0.5 * single->fill + 0.5 * support, level, true});
        continue;
      }
      if (!crowded) continue;
      cv::Mat cluster = cv::Mat::zeros(mask.size(), CV_8U);
      cv::drawContours(cluster, std::vector<Contour>{contour}, 0, cv::Scalar(255), cv::FILLED);
      for (const Guess& guess : take_apart(cluster, contour, edges, segments, limits))
        if (plausible(guess.shape, limits)) candidates.push_back({guess.shape, guess.support, level, false});
    }
  };
  int level = 0;
  for (const double threshold : {3.0, 4.0, 5.5, 8.0, 12.0, 18.0, 28.0}) take(difference.any > threshold, level++, threshold == 4 || threshold == 8 || threshold == 18);
  level = 0;
  for (const double threshold : {3.0, 4.5, 7.0, 12.0}) take(difference.no_shadow > threshold, level++, threshold == 4.5);
  take(enclosed(edges, ignore), 0, true);
  return candidates;
}

std::vector<Candidate> choose(std::vector<Candidate> candidates) {
  // Two envelopes that lie close merge at a low threshold, through their shadows, into what may look like one.
  std::vector<Candidate> kept;
  for (const Candidate& whole : candidates) {
    const double area = area_of(whole.shape);
    std::vector<const Candidate*> parts;
    double covered = 0;
    std::vector<const Candidate*> inside;
    for (const Candidate& c : candidates)
      if (c.apart && c.quality > 0.72 && area_of(c.shape) < 0.7 * area && area_of(c.shape) > 0.12 * area &&
          overlap_area(c.shape, whole.shape) > 0.9 * area_of(c.shape))
        inside.push_back(&c);
    std::sort(inside.begin(), inside.end(), [](const Candidate* a, const Candidate* b) { return area_of(a->shape) > area_of(b->shape); });
    for (const Candidate* c : inside) {
      const bool free = std::all_of(parts.begin(), parts.end(), [&](const Candidate* p) {
        return overlap_area(p->shape, c->shape) < 0.1 * area_of(c->shape);
      });
      if (free) parts.push_back(c), covered += area_of(c->shape);
    }
    if (parts.size() < 2 || covered < 0.75 * area) kept.push_back(whole);
  }

  const auto worth = [](const Candidate& c) { return c.quality + 0.06 * std::log2(std::max(1.0, area_of(c.shape))); };
  std::sort(kept.begin(), kept.end(), [&](const Candidate& a, const Candidate& b) { return worth(a) > worth(b); });
  constexpr double kMostOverlap = 0.25;
  std::vector<Candidate> chosen;
  for (const Candidate& candidate : kept) {
    const double area = area_of(candidate.shape);
    const bool free = std::all_of(chosen.begin(), chosen.end(), [&](const Candidate& c) {
      return overlap_area(c.shape, candidate.shape) <= kMostOverlap * std::min(area, area_of(c.shape));
    });
    if (free) chosen.push_back(candidate);
  }
  return chosen;
}

}  // namespace papillote::segmentation
