// Faded writing: ink that hardly stands out from the paper, measured on each line of annotation.
#include <algorithm>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"
#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

// Share of the paper's light that the darkest strokes within the line take away; nothing where too little shows.
std::optional<double> contrast_of(const View& view, const Polygon& line) {
  constexpr double kFiner = 4;            // strokes are thinner than the maps' pixels
  constexpr std::size_t kFewest = 100;    // pixels
  const cv::Rect part = image::box_of(line);
  if (part.empty()) return std::nullopt;
  cv::Mat grey;
  cv::cvtColor(view.picture(part, kFiner), grey, cv::COLOR_BGR2GRAY);
  const cv::Mat within = image::inside_of(line, part, kFiner);
  std::vector<std::uint8_t> values;
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x)
      if (within.at<std::uint8_t>(y, x) != 0) values.push_back(grey.at<std::uint8_t>(y, x));
  if (values.size() < kFewest) return std::nullopt;
  const auto at = [&](double share) {
    const auto n = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), n, values.end());
    return static_cast<double>(*n);
  };
  const double paper = std::max(1.0, at(0.6));
  return 1 - at(0.03) / paper;
}

// What the net says of the line at its best. Alone it errs as often as the contrast alone: legs and the rims of wings behind glassine,
// taken for lines, are as pale as faded ink, and sound pencil looks faded to it.
double odds_of(const cv::Mat& smooth_odds, const Polygon& line) {
  const cv::Rect part = image::box_of(line) & cv::Rect(cv::Point(), smooth_odds.size());
  constexpr double kNone = -10;
  if (part.empty()) return kNone;
  double best = kNone;
  cv::minMaxLoc(smooth_odds(part), nullptr, &best, nullptr, nullptr, image::inside_of(line, part));
  return best;
}

// Logistic fit on 648 written envelopes of rendered sheets (seeds 8060 to 8280), 20 of them faded.
double chance_of(double contrast, double odds) { return 1 / (1 + std::exp(18.9 * (contrast - 0.25) - 1.03 * odds + 0.24)); }

double middle_of(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// All faded lines of an envelope are one finding: ink of one day fades together.
std::vector<Sign> look(const View& view) {
  constexpr double kLeast = 0.2;
  cv::Mat odds;
  cv::blur(view.odds.at(static_cast<std::size_t>(Damage::faded)), odds, {3, 3});
  std::vector<double> contrasts, chances;
  std::vector<cv::Point2f> corners;
  for (const Polygon& line : view.writing) {
    const auto contrast = contrast_of(view, line);
    const double chance = contrast ? chance_of(*contrast, odds_of(odds, line)) : 0;
    if (chance < kLeast) continue;
    contrasts.push_back(*contrast);
    chances.push_back(chance);
    for (const Point& p : line) corners.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  }
  if (contrasts.empty()) return {};
  std::vector<cv::Point2f> hull;
  cv::convexHull(corners, hull);
  const double contrast = middle_of(contrasts);
  Sign sign;
  for (const cv::Point2f& p : hull) sign.region.push_back({p.x, p.y});
  sign.confidence = middle_of(chances);
  sign.severity = severity_of(-contrast, -0.3, -0.18, -0.12);
  sign.words = fmt::format("the ink takes {:.0f} % of the paper's light", 100 * contrast);
  return {sign};
}

}  // namespace

extern const Detector faded{"faded", 8, look};

}  // namespace papillote::condition::detectors
