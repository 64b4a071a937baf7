// Faded writing: ink that hardly stands out from the paper, measured on each line of annotation.
#include <algorithm>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"
#include "pipeline/record/rank.h"
#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

constexpr double kFiner = 4;  // strokes are thinner than the maps' pixels

// Where something else lies on the paper: rust over pale ink is not dark ink.
cv::Mat covered_in(const View& view) {
  cv::Mat covered = cv::Mat::zeros(view.odds.front().size(), CV_8U);
  for (const Damage kind : {Damage::tear, Damage::hole, Damage::mould, Damage::foxing, Damage::frass, Damage::rust, Damage::protruding,
                            Damage::fragments, Damage::webbing})
    covered |= view.odds.at(static_cast<std::size_t>(kind)) > 0;
  return covered;
}

// Share of the paper's light that the darkest strokes within the line take away; nothing where too little shows. The paper beside a stroke
// is what closing with a square wider than any stroke leaves of the picture.
std::optional<double> contrast_of(const View& view, const Polygon& line, const cv::Mat& covered) {
  constexpr double kWiderThanStrokes = 1.6;  // about millimetres
  constexpr double kDarkest = 0.98;          // strokes of small letters cover few hundredths of their line
  constexpr std::size_t kFewest = 100;       // pixels
  const cv::Rect part = image::box_of(line) & cv::Rect({}, covered.size());
  if (part.empty()) return std::nullopt;
  cv::Mat grey, paper;
  cv::cvtColor(view.picture(part, kFiner), grey, cv::COLOR_BGR2GRAY);
  const int wide = cvRound(kWiderThanStrokes * view.unit_px * kFiner) | 1;
  cv::morphologyEx(grey, paper, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {wide, wide}));
  cv::blur(paper, paper, {wide, wide});
  cv::Mat within = image::inside_of(line, part, kFiner), hidden;
  cv::resize(covered(part), hidden, grey.size(), 0, 0, cv::INTER_NEAREST);
  within.setTo(0, hidden);
  std::vector<double> taken;
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x)
      if (within.at<std::uint8_t>(y, x) != 0) taken.push_back(1 - grey.at<std::uint8_t>(y, x) / std::max(1.0, double(paper.at<std::uint8_t>(y, x))));
  if (taken.size() < kFewest) return std::nullopt;
  return quantile(std::move(taken), kDarkest);
}

// What the net says of the line at its best: over newsprint the contrast is the print's.
double odds_of(const cv::Mat& smooth_odds, const Polygon& line) {
  const cv::Rect part = image::box_of(line) & cv::Rect(cv::Point(), smooth_odds.size());
  constexpr double kNone = -10;
  if (part.empty()) return kNone;
  double best = kNone;
  cv::minMaxLoc(smooth_odds(part), nullptr, &best, nullptr, nullptr, image::inside_of(line, part));
  return best;
}

// Logistic fit on the lines of 3,454 envelopes of rendered sheets, 168 of them faded (models/damage/card.md).
double chance_of(double contrast, double odds) { return 1 / (1 + std::exp(14.1 * (contrast - 0.288) - 2.44 * odds)); }

// All faded lines of an envelope are one finding, as sure as the surest of them: ink of one day fades together.
std::vector<Sign> look(const View& view) {
  constexpr double kLeast = 0.1;
  const cv::Mat covered = covered_in(view);
  cv::Mat odds;
  cv::blur(view.odds.at(static_cast<std::size_t>(Damage::faded)), odds, {3, 3});
  std::vector<double> contrasts;
  std::vector<cv::Point2f> corners;
  Sign sign;
  for (const Polygon& line : view.writing) {
    const auto contrast = contrast_of(view, line, covered);
    const double chance = contrast ? chance_of(*contrast, odds_of(odds, line)) : 0;
    if (chance < kLeast) continue;
    contrasts.push_back(*contrast);
    sign.confidence = std::max(sign.confidence, chance);
    for (const Point& p : line) corners.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  }
  if (contrasts.empty()) return {};
  std::vector<cv::Point2f> hull;
  cv::convexHull(corners, hull);
  for (const cv::Point2f& p : hull) sign.region.push_back({p.x, p.y});
  const double contrast = median(std::move(contrasts));
  sign.severity = severity_of(-contrast, -0.225, -0.18, -0.135);
  sign.words = fmt::format("the ink takes {:.0f} % of the paper's light", 100 * contrast);
  return {sign};
}

}  // namespace

extern const Detector faded{"faded", 10, look};

}  // namespace papillote::condition::detectors
