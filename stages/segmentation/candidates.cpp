#include "stages/segmentation/candidates.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "stages/segmentation/background.h"
#include "stages/segmentation/edges.h"

namespace papillote::segmentation {
namespace {

constexpr double kOddShape = 0.1;    // taken off for shapes that envelopes seldom have
constexpr double kLeastFill = 0.93;  // of a shape by its outline; torn corners and bent edges take some

using Contour = std::vector<cv::Point>;

struct Part {
  Contour outline;
  cv::Mat mask;        // CV_8U of the whole picture; small holes (ink, wings) are filled
  bool solid = false;  // no larger holes: not a net of lines or a ring
};

// The mask's parts large enough for an envelope.
std::vector<Part> parts_of(const cv::Mat& mask, double least_area) {
  std::vector<Contour> contours;
  std::vector<cv::Vec4i> tree;  // next, previous, first child, parent
  cv::findContours(mask, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  std::vector<Part> parts;
  for (std::size_t i = 0; i < contours.size(); ++i) {
    if (tree[i][3] >= 0) continue;
    const double area = cv::contourArea(contours[i]);
    if (area < least_area) continue;
    Part part{contours[i], cv::Mat::zeros(mask.size(), CV_8U), true};
    cv::drawContours(part.mask, contours, static_cast<int>(i), cv::Scalar(255), cv::FILLED);
    double holes = 0;
    for (int hole = tree[i][2]; hole >= 0; hole = tree[static_cast<std::size_t>(hole)][0]) {
      const double hole_area = cv::contourArea(contours[static_cast<std::size_t>(hole)]);
      holes += hole_area;
      // A larger hole may be table between envelopes.
      if (hole_area > 0.5 * least_area) cv::drawContours(part.mask, contours, hole, cv::Scalar(0), cv::FILLED);
    }
    part.solid = holes < 0.4 * area;
    parts.push_back(std::move(part));
  }
  return parts;
}

cv::Mat changed(const cv::Mat& mask, cv::MorphTypes how, int side) {
  cv::Mat out;
  cv::morphologyEx(mask, out, how, cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side}));
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

cv::Mat smoothed_lab(const cv::Mat& bgr) {
  cv::Mat smooth;
  cv::blur(bgr, smooth, {9, 9});
  smooth.convertTo(smooth, CV_32F, 1 / 255.0);
  cv::Mat lab;
  cv::cvtColor(smooth, lab, cv::COLOR_BGR2Lab);
  return lab;
}

// The shape's own pixels, in `box` of the picture.
cv::Mat filled(const Shape& shape, const cv::Rect& box) {
  cv::Mat own = cv::Mat::zeros(box.size(), CV_8U);
  std::vector<cv::Point> polygon;
  for (const cv::Point2d& p : shape) polygon.emplace_back(cvRound(p.x) - box.x, cvRound(p.y) - box.y);
  cv::fillConvexPoly(own, polygon, cv::Scalar(255));
  return own;
}

cv::Rect box_of(const Shape& shape) { return cv::boundingRect(std::vector<cv::Point2f>(shape.begin(), shape.end())); }

// Share of the shape on which the mask is set.
double share_of(const Shape& shape, const cv::Mat& mask) {
  const cv::Rect box = box_of(shape) & cv::Rect(cv::Point(), mask.size());
  if (box.empty()) return 0;
  const cv::Mat own = filled(shape, box);
  const int all = cv::countNonZero(own);
  return all ? static_cast<double>(cv::countNonZero(own & mask(box))) / all : 0;
}

// How far the mean colour within the shape is from that of a ring around it, where neither is ignored.
double contrast_of(const Shape& shape, const cv::Mat& lab, const cv::Mat& ignore) {
  constexpr int kRing_px = 8;
  cv::Rect box = box_of(shape);
  box -= cv::Point(kRing_px + 3, kRing_px + 3), box += cv::Size(2 * kRing_px + 6, 2 * kRing_px + 6);
  box &= cv::Rect(cv::Point(), lab.size());
  if (box.empty()) return 0;
  cv::Mat own = filled(shape, box);
  cv::Mat near;
  cv::Mat ring;
  cv::dilate(own, near, cv::getStructuringElement(cv::MORPH_RECT, {5, 5}));
  cv::dilate(own, ring, cv::getStructuringElement(cv::MORPH_RECT, {2 * kRing_px + 1, 2 * kRing_px + 1}));
  ring.setTo(0, near), ring.setTo(0, ignore(box)), own.setTo(0, ignore(box));
  if (cv::countNonZero(ring) == 0 || cv::countNonZero(own) == 0) return 0;
  const cv::Scalar d = cv::mean(lab(box), own) - cv::mean(lab(box), ring);
  return std::sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
}

// What cannot be reached from the rim of the picture without crossing an edge, when gaps up to `gap_px` are closed.
cv::Mat enclosed(const EdgeMap& edges, const cv::Mat& ignore, int gap_px) {
  cv::Mat barrier = edges.any();
  barrier.setTo(0, ignore);
  if (gap_px > 0) barrier = changed(barrier, cv::MORPH_CLOSE, gap_px);
  cv::Mat reached;
  cv::copyMakeBorder(barrier, reached, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::floodFill(reached, {0, 0}, cv::Scalar(128));
  const cv::Mat inside = reached != 128;
  return inside(cv::Rect(1, 1, barrier.cols, barrier.rows)).clone();
}

}  // namespace

std::vector<Candidate> find_candidates(const cv::Mat& bgr, const cv::Mat& ignore, const SideLimits& limits) {
  const Difference difference = difference_from_table(bgr, ignore, 1);
  const Difference faint = difference_from_table(bgr, ignore, 4);
  const EdgeMap edges(bgr);
  const std::vector<Segment> segments = clear_straight_edges(bgr, 0.4 * limits.least_px);
  const cv::Mat colours = smoothed_lab(bgr);
  const double least_area = 0.4 * limits.least_px * limits.least_px;

  std::vector<Candidate> candidates;
  // Thin things (rules on a cutting mat, threads, joints of planks) are no part of an envelope.
  const int thin_px = std::clamp(static_cast<int>(limits.least_px / 7) | 1, 5, 11);
  const auto take = [&](const cv::Mat& raw, int level, bool crowded, bool joined) {
    cv::Mat mask = raw.clone();
    mask.setTo(0, ignore);
    mask = changed(mask, cv::MORPH_OPEN, thin_px);
    if (joined) mask = changed(mask, cv::MORPH_CLOSE, 2 * thin_px + 1);
    for (const Part& part : parts_of(mask, least_area)) {
      auto single = part.solid ? fit_single(part.outline, kLeastFill) : std::nullopt;
      bool settled = false;
      if (single && plausible(single->shape, limits)) {
        // Blurred masks and shadows make outlines too large.
        single->shape = edges.settled(single->shape, 2, 8);
        const double support = edges.support(single->shape);
        // Four or five sides at any angle may well be two envelopes.
        const bool of_the_trade = name_of(single->shape) != "polygon";
        settled = of_the_trade;
        if (support > 0.4) 
          candidates.push_back({single->shape, 0.5 * single->fill + 0.5 * support - (of_the_trade ? 0 : kOddShape), level, true,
                                edges.weakest_side(single->shape)});
      }
      if (settled || !crowded) continue;
      for (const Guess& guess : take_apart(part.mask, part.outline, edges, segments, colours, limits))
        if (plausible(guess.shape, limits)) candidates.push_back({guess.shape, guess.support, level, false, guess.proof});
    }
  };
  int level = 0;
  for (const double threshold : {3.0, 4.0, 5.5, 8.0, 12.0, 18.0, 28.0})
    take(difference.any > threshold, level++, threshold == 4 || threshold == 8 || threshold == 18, false);
  level = 0;
  for (const double threshold : {3.0, 4.5, 7.0, 12.0}) take(difference.no_shadow > threshold, level++, threshold == 4.5, false);
  // Newsprint on a table of its grey: print and table cut the paper to strips, which are joined again.
  for (const double threshold : {4.0, 10.0}) {
    cv::Mat joined = changed(difference.any > threshold, cv::MORPH_CLOSE, thin_px);
    take(joined, level++, true, true);
  }
  // Paper of nearly the table's colour shows through a wide blur, or by its edges all round.
  for (const double threshold : {3.0, 4.5, 7.0}) take(faint.any > threshold, 0, false, false);
  for (const int gap_px : {0, 9}) take(enclosed(edges, ignore, gap_px), 0, gap_px == 0, false);
  // A field of a ruled table has edges all round too, but the colour of the fields beside it; and the table between
  // envelopes that touch can have a likely outline.
  constexpr double kLeastContrast = 0.5;  // in L*a*b*, of means over many pixels
  cv::Mat differs = difference.any > 2.5;
  differs |= faint.any > 3.5;
  const auto is_table = [&](const Candidate& c, double least_share) {
    return contrast_of(c.shape, difference.lab, ignore) < kLeastContrast || share_of(c.shape, differs) < least_share;
  };
  std::erase_if(candidates, [&](const Candidate& c) { return is_table(c, c.apart ? 0 : 0.5); });

  // What is left: straight edges that belong to no envelope clearly seen so far.
  std::vector<Candidate> clear = choose(candidates);
  std::erase_if(clear, [&](const Candidate& c) { return c.quality < 0.9 || share_of(c.shape, differs) < 0.8; });
  std::vector<Segment> left;
  for (const Segment& s : edges.straight(0.4 * limits.least_px)) {
    const cv::Point2d middle = (s.a + s.b) / 2;
    const bool explained = ignore.at<uchar>(cv::Point(middle)) != 0 || std::any_of(clear.begin(), clear.end(), [&](const Candidate& c) {
      return cv::pointPolygonTest(std::vector<cv::Point2f>(c.shape.begin(), c.shape.end()), cv::Point2f(middle), true) > -4;
    });
    if (!explained) left.push_back(s);
  }
  constexpr double kMostRunningOn = 0.3;
  for (const Guess& guess : from_edges_alone(edges, left, colours, limits)) {
    const Candidate candidate{guess.shape, guess.support, 0, false, 0};
    if (plausible(guess.shape, limits) && edges.running_on(guess.shape) < kMostRunningOn && !is_table(candidate, 0))
      candidates.push_back(candidate);
  }
  return candidates;
}

std::vector<Candidate> find_all(const cv::Mat& bgr, const cv::Mat& ignore, const SideLimits& limits) {
  std::vector<Candidate> chosen = choose(find_candidates(bgr, ignore, limits));
  constexpr double kLeastTray = 0.3;  // of the photograph
  const auto tray = std::find_if(chosen.begin(), chosen.end(), [&](const Candidate& c) {
    return c.shape.size() == 4 && area_of(c.shape) > kLeastTray * static_cast<double>(bgr.total());
  });
  if (tray == chosen.end()) return chosen;

  // What lies in it, with its floor for a table; its wall and the wall's shadow do not take part.
  constexpr double kFloor = 0.86;  // of the tray's width and height
  cv::Point2d middle;
  for (const cv::Point2d& p : tray->shape) middle += p / 4;
  Shape floor;
  for (const cv::Point2d& p : tray->shape) floor.push_back(middle + (p - middle) * kFloor);
  const cv::Rect box = box_of(floor) & cv::Rect(cv::Point(), bgr.size());
  cv::Mat walls = ~filled(floor, box);
  walls |= ignore(box);
  std::vector<Candidate> inside = choose(find_candidates(bgr(box), walls, limits));
  double covered = 0;
  for (Candidate& c : inside) {
    for (cv::Point2d& p : c.shape) p += cv::Point2d(box.tl());
    covered += area_of(c.shape);
  }
  // One large envelope has folds and writing on it; a tin has several envelopes in it.
  if (inside.size() < 3 || covered < 0.12 * box.area()) {
    // Something with the outline of an envelope but larger than any: a mat or its rules, an empty tin, a book.
    const auto frame = frame_of(tray->shape);
    if (std::max(cv::norm(frame[1] - frame[0]), cv::norm(frame[2] - frame[1])) > limits.most_px) chosen.erase(tray);
    return chosen;
  }
  chosen.erase(tray);
  for (Candidate& c : inside) {
    const bool free = std::all_of(chosen.begin(), chosen.end(), [&](const Candidate& other) {
      return overlap_area(c.shape, other.shape) <= 0.25 * std::min(area_of(c.shape), area_of(other.shape));
    });
    if (free) chosen.push_back(std::move(c));
  }
  return chosen;
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
      if (c.proof > 0.6 && c.quality > (c.apart ? 0.72 : 0.8) && area_of(c.shape) < 0.7 * area && area_of(c.shape) > 0.12 * area &&
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
