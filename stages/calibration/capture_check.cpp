#include "stages/calibration/capture_check.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/edge.h"
#include "pipeline/record/rank.h"
#include "stages/calibration/card.h"
#include "stages/calibration/linear_light.h"
#include "stages/calibration/sharpness.h"

namespace papillote::calibration {
namespace {

constexpr double kReach_mm = 1.8;      // frame and margin of a marker are 2 mm and more wide
constexpr int kShrink = 8;             // for what is looked for on the table: about 1.5 px/mm are left
constexpr double kSearchSide_px = 600;  // of the edges in a field
constexpr double kCardLength_mm = 110;

Point applied(const cv::Matx33d& h, const Point& p) {
  const cv::Vec3d q = h * cv::Vec3d(p.x, p.y, 1);
  return {q[0] / q[2], q[1] / q[2]};
}

Quad applied(const cv::Matx33d& h, const Quad& quad) {
  Quad out;
  std::transform(quad.begin(), quad.end(), out.begin(), [&](const Point& p) { return applied(h, p); });
  return out;
}

// The part of the photograph around the card, and its corner.
struct CardView {
  cv::Mat bgr;
  cv::Point2d at_px;
  cv::Matx33d px_from_mm;  // pixels of the view
  double px_per_mm = 0;
};

std::optional<CardView> card_view(const Calibration& calibration, const cv::Mat& photo) {
  if (!calibration.mm_from_px || !calibration.card_px || !calibration.px_per_mm) return std::nullopt;
  std::vector<cv::Point2f> corners;
  for (const Point& p : *calibration.card_px) corners.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
  const int margin = cvCeil(3 * *calibration.px_per_mm);
  cv::Rect box = cv::boundingRect(corners);
  box = cv::Rect(box.x - margin, box.y - margin, box.width + 2 * margin, box.height + 2 * margin) & cv::Rect(cv::Point(), photo.size());
  if (box.empty()) return std::nullopt;
  const cv::Matx33d mm_from_px(calibration.mm_from_px->data());
  const cv::Matx33d to_view(1, 0, -box.x, 0, 1, -box.y, 0, 0, 1);
  return CardView{photo(box), cv::Point2d(box.tl()), to_view * mm_from_px.inv(), *calibration.px_per_mm};
}

void measure_edges(const CardView& card, CaptureMeasures& measures) {
  cv::Mat grey;
  cv::cvtColor(card.bgr, grey, cv::COLOR_BGR2GRAY);
  std::vector<cv::Mat> planes;
  cv::split(card.bgr, planes);
  const double reach_px = kReach_mm * card.px_per_mm;
  std::vector<FrequencyResponse> responses;
  std::vector<double> shifts;
  std::vector<double> away_mm;
  for (int id = 0; id < 4; ++id) {
    const Quad corners = applied(card.px_from_mm, marker_mm(id));
    std::array<std::optional<image::EdgeFit>, 4> sides;
    for (std::size_t i = 0; i < 4; ++i) {
      const Point& a = corners[i];
      const Point& b = corners[(i + 1) % 4];
      sides[i] = image::fit_edge(grey, a, b, std::max(2.0, reach_px / 2), image::Polarity::bright_left);
      if (!sides[i]) continue;
      if (auto response = frequency_response(grey, a, b, reach_px)) responses.push_back(std::move(*response));
      const cv::Point2d middle((a.x + b.x) / 2, (a.y + b.y) / 2);
      double least = 1e9;
      double most = -1e9;
      int seen = 0;
      for (const cv::Mat& plane : planes)
        if (const auto fit = image::fit_edge(plane, a, b, std::max(2.0, reach_px / 2), image::Polarity::bright_left)) {
          const cv::Point2d normal(sides[i]->line.along.y, -sides[i]->line.along.x);
          // Where the channel's line passes the middle of the edge.
          const cv::Point2d foot = fit->line.at + fit->line.along * (middle - fit->line.at).dot(fit->line.along);
          const double across = (foot - middle).dot(normal);
          least = std::min(least, across), most = std::max(most, across);
          ++seen;
        }
      if (seen == 3) shifts.push_back(most - least);
    }
    for (std::size_t i = 0; i < 4; ++i) {
      const auto& before = sides[(i + 3) % 4];
      if (!before || !sides[i]) continue;
      if (const auto corner = image::crossing(before->line, sides[i]->line))
        away_mm.push_back(std::hypot(corner->x - corners[i].x, corner->y - corners[i].y) / card.px_per_mm);
    }
  }
  measures.response = median_of(responses);
  constexpr std::size_t kEnough = 4;
  if (shifts.size() >= kEnough) measures.misregistration_px = median(shifts);
  if (away_mm.size() >= 2 * kEnough) measures.distortion_percent = 100 * *std::max_element(away_mm.begin(), away_mm.end()) / kCardLength_mm;
}

struct Patch {
  std::array<double, 3> rgb{};  // linear
  double noise = 0;             // of L*
  bool clipped = false;
};

std::optional<Patch> patch_of(const CardView& card, std::size_t k) {
  const Quad mm = patch_mm(k);
  constexpr int kSamples = 24;
  Patch patch;
  std::vector<double> lightness;
  for (int i = 0; i < kSamples; ++i)
    for (int j = 0; j < kSamples; ++j) {
      const double u = 0.2 + 0.6 * i / (kSamples - 1);
      const double v = 0.2 + 0.6 * j / (kSamples - 1);
      const Point p = applied(card.px_from_mm, Point{mm[0].x + u * (mm[1].x - mm[0].x), mm[0].y + v * (mm[3].y - mm[0].y)});
      const cv::Point at(cvFloor(p.x), cvFloor(p.y));
      if (!cv::Rect(cv::Point(), card.bgr.size()).contains(at)) return std::nullopt;
      const auto& pixel = card.bgr.at<cv::Vec3b>(at);
      std::array<double, 3> rgb{};
      for (int c = 0; c < 3; ++c) {
        rgb[static_cast<std::size_t>(c)] = linear_light(pixel[2 - c] / 255.0);
        patch.rgb[static_cast<std::size_t>(c)] += rgb[static_cast<std::size_t>(c)] / (kSamples * kSamples);
        patch.clipped = patch.clipped || pixel[2 - c] >= 254;
      }
      lightness.push_back(lab_of_linear_rgb(rgb).lightness);
    }
  double mean = 0;
  for (const double l : lightness) mean += l / static_cast<double>(lightness.size());
  for (const double l : lightness) patch.noise += (l - mean) * (l - mean) / static_cast<double>(lightness.size());
  patch.noise = std::sqrt(patch.noise);
  return patch;
}

void measure_patches(const CardView& card, const std::vector<Lab>& measured, CaptureMeasures& measures) {
  constexpr std::array<double, kGreys> kPrinted{243, 200, 160, 122, 85, 52};
  double balance = 0;
  double noise = 0;
  double tone = 0;
  int greys = 0;
  double colour = 0;
  double most = 0;
  int colours = 0;
  for (std::size_t k = 0; k < kPatches; ++k) {
    const auto patch = patch_of(card, k);
    if (!patch) return;
    const Lab seen = lab_of_linear_rgb(patch->rgb);
    if (k < kGreys && !patch->clipped) {
      const double level = linear_light(kPrinted[k] / 255.0);
      balance += std::hypot(seen.a, seen.b);
      noise += patch->noise;
      tone = std::max(tone, std::abs(seen.lightness - lab_of_linear_rgb({level, level, level}).lightness));
      ++greys;
    }
    if (measured.size() == kPatches) {
      const double error = ciede2000(measured[k], seen, LightnessWeight::one);
      colour += error;
      most = std::max(most, error);
      ++colours;
    }
  }
  if (greys > 0) {
    measures.white_balance = balance / greys;
    measures.noise = noise / greys;
    measures.tone_error = tone;
  }
  if (colours > 0) {
    measures.mean_colour_error = colour / colours;
    measures.most_colour_error = most;
  }
}

// Light of the bare table: the most frequent colour among the even tiles of the picture.
std::optional<double> unevenness(const cv::Mat& small) {
  constexpr int kTile_px = 8;
  struct Tile {
    int field = 0;
    double light = 0;
    std::pair<int, int> hue;
  };
  std::vector<Tile> even;
  std::map<std::pair<int, int>, int> votes;
  for (int y = 0; y + kTile_px <= small.rows; y += kTile_px)
    for (int x = 0; x + kTile_px <= small.cols; x += kTile_px) {
      cv::Scalar mean;
      cv::Scalar spread;
      cv::meanStdDev(small(cv::Rect(x, y, kTile_px, kTile_px)), mean, spread);
      if (std::max({spread[0], spread[1], spread[2]}) > 4 || mean[1] > 250 || mean[1] < 8) continue;
      const double sum = mean[0] + mean[1] + mean[2];
      constexpr double kHues = 24;  // shares of blue and of red, in steps
      Tile tile{3 * (3 * y / small.rows) + 3 * x / small.cols, 0.0722 * linear_light(mean[0] / 255) + 0.7152 * linear_light(mean[1] / 255) + 0.2126 * linear_light(mean[2] / 255),
                {cvRound(kHues * mean[0] / sum), cvRound(kHues * mean[2] / sum)}};
      ++votes[tile.hue];
      even.push_back(tile);
    }
  if (votes.empty()) return std::nullopt;
  const auto table = std::max_element(votes.begin(), votes.end(), [](const auto& a, const auto& b) { return a.second < b.second; })->first;
  std::vector<double> all;
  for (const Tile& tile : even)
    if (tile.hue == table) all.push_back(tile.light);
  const double usual = median(all);
  std::array<std::vector<double>, 9> fields;
  for (const Tile& tile : even)
    if (tile.hue == table && tile.light > usual / 1.8 && tile.light < usual * 1.8) fields[static_cast<std::size_t>(tile.field)].push_back(tile.light);
  std::vector<double> lights;
  constexpr std::size_t kLeastTiles = 4;
  for (const auto& field : fields)
    if (field.size() >= kLeastTiles) lights.push_back(median(field));
  constexpr std::size_t kLeastFields = 5;
  if (lights.size() < kLeastFields) return std::nullopt;
  const auto [least, most] = std::minmax_element(lights.begin(), lights.end());
  double mean = 0;
  for (const double light : lights) mean += light / static_cast<double>(lights.size());
  return 100 * (*most - *least) / mean;
}

std::vector<Glare> find_glare(const cv::Mat& small, const Calibration& calibration, double shrunk) {
  std::vector<Glare> found;
  if (!calibration.px_per_mm) return found;
  const double px_per_mm = *calibration.px_per_mm / shrunk;
  std::vector<cv::Mat> planes;
  cv::split(small, planes);
  cv::Mat burnt = cv::min(cv::min(planes[0], planes[1]), planes[2]) >= 250;
  for (const auto& quad : {calibration.card_px, calibration.label_px}) {
    if (!quad) continue;
    std::vector<cv::Point> corners;
    for (const Point& p : *quad) corners.emplace_back(cvRound(p.x / shrunk), cvRound(p.y / shrunk));
    cv::fillConvexPoly(burnt, corners, cv::Scalar(0));
  }
  cv::Mat labels;
  cv::Mat stats;
  cv::Mat centres;
  const int count = cv::connectedComponentsWithStats(burnt, labels, stats, centres);
  constexpr double kLeast_mm2 = 3;
  constexpr double kMost_mm2 = 600;  // larger is no glint but the exposure
  for (int i = 1; i < count; ++i) {
    const double area_mm2 = stats.at<int>(i, cv::CC_STAT_AREA) / (px_per_mm * px_per_mm);
    if (area_mm2 < kLeast_mm2 || area_mm2 > kMost_mm2) continue;
    cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP), stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    constexpr int kRing_px = 4;
    const cv::Rect around = cv::Rect(box.x - kRing_px, box.y - kRing_px, box.width + 2 * kRing_px, box.height + 2 * kRing_px) & cv::Rect(cv::Point(), small.size());
    cv::Mat ring;
    cv::dilate(labels(around) == i, ring, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kRing_px + 1, 2 * kRing_px + 1}));
    cv::Mat near;
    cv::dilate(labels(around) == i, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
    ring.setTo(0, near);
    if (cv::countNonZero(ring) == 0) continue;
    const cv::Scalar beside = cv::mean(small(around), ring);
    constexpr double kPaper = 225;  // brighter surroundings are white paper, burnt out as a whole
    if (beside[1] > kPaper) continue;
    const auto at = [&](int x, int y) { return Point{x * shrunk, y * shrunk}; };
    found.push_back({{at(box.x, box.y), at(box.x + box.width, box.y), at(box.x + box.width, box.y + box.height), at(box.x, box.y + box.height)}, area_mm2});
  }
  return found;
}

std::string said(double value, const char* form) {
  char text[64];
  std::snprintf(text, sizeof text, form, value);
  return text;
}

}  // namespace

CaptureMeasures measure_capture(const Calibration& calibration, const image::Image& image, const std::vector<Lab>& measured_patches) {
  CaptureMeasures measures;
  if (image.bgr.empty()) return measures;
  constexpr double kMm_per_inch = 25.4;
  if (const auto card = card_view(calibration, image.bgr)) {
    measures.px_per_inch = card->px_per_mm * kMm_per_inch;
    measure_edges(*card, measures);
    measure_patches(*card, measured_patches, measures);
  }
  cv::Mat small;
  cv::resize(image.bgr, small, cv::Size(std::max(1, image.bgr.cols / kShrink), std::max(1, image.bgr.rows / kShrink)), 0, 0, cv::INTER_AREA);
  measures.unevenness_percent = unevenness(small);
  measures.glare = find_glare(small, calibration, static_cast<double>(image.bgr.cols) / small.cols);
  for (int row = 0; row < 3; ++row)
    for (int column = 0; column < 3; ++column) {
      const cv::Rect field(column * image.bgr.cols / 3, row * image.bgr.rows / 3, image.bgr.cols / 3, image.bgr.rows / 3);
      if (field.empty()) continue;
      cv::Mat grey;
      cv::cvtColor(image.bgr(field), grey, cv::COLOR_BGR2GRAY);
      measures.rise_px[static_cast<std::size_t>(3 * row + column)] = sharper_rise_px(grey, kSearchSide_px);
    }
  return measures;
}

std::vector<Aim> beside_aims(const CaptureMeasures& m) {
  // imaging_aims.csv of the project's reference tables; Metamorfoze is the draft of June 2023.
  constexpr const char* kMetamorfoze = "Metamorfoze 2.0 light, draft 2023";
  constexpr const char* kFadgi = "FADGI 2016, 3 star";
  std::vector<Aim> aims;
  if (m.px_per_inch) aims.push_back({"sampling rate", said(*m.px_per_inch, "%.0f ppi"), "at least 400 ppi", "36 CFR 1236.50, fine detail", *m.px_per_inch >= 399.5});
  if (m.response) {
    const double efficiency = std::min(100.0, 200 * m.response->mtf10_cy_per_px);
    aims.push_back({"sampling efficiency", said(efficiency, "%.0f %%"), "at least 85 %", kMetamorfoze, efficiency >= 85});
    const double share = 200 * m.response->mtf50_cy_per_px;
    aims.push_back({"MTF50 of half sampling", said(share, "%.0f %%"), "35 to 75 %", kFadgi, share >= 35 && share <= 75});
  }
  if (m.misregistration_px)
    aims.push_back({"colour misregistration", said(*m.misregistration_px, "%.2f px"), "at most 0.50 px", kMetamorfoze, *m.misregistration_px <= 0.5});
  if (m.distortion_percent) aims.push_back({"distortion at the card", said(*m.distortion_percent, "%.2f %%"), "at most 2 %", kMetamorfoze, *m.distortion_percent <= 2});
  if (m.white_balance) aims.push_back({"white balance", said(*m.white_balance, "%.1f dE(a*b*)"), "at most 3", kMetamorfoze, *m.white_balance <= 3});
  if (m.tone_error) aims.push_back({"exposure of the greys", said(*m.tone_error, "%.1f dL*"), "at most 5", kFadgi, *m.tone_error <= 5});
  if (m.noise) aims.push_back({"noise", said(*m.noise, "%.1f L*"), "at most 1.6", kMetamorfoze, *m.noise <= 1.6});
  if (m.unevenness_percent) aims.push_back({"evenness of light", said(*m.unevenness_percent, "%.0f %%"), "under 3 %", kFadgi, *m.unevenness_percent < 3});
  if (m.mean_colour_error) aims.push_back({"mean colour error", said(*m.mean_colour_error, "%.1f dE00"), "at most 4", kMetamorfoze, *m.mean_colour_error <= 4});
  if (m.most_colour_error) aims.push_back({"largest colour error", said(*m.most_colour_error, "%.1f dE00"), "at most 14", kMetamorfoze, *m.most_colour_error <= 14});
  return aims;
}

std::string soft_field(const CaptureMeasures& measures) {
  constexpr std::array<const char*, 9> kNames{"upper left", "top", "upper right", "left", "middle", "right", "lower left", "bottom", "lower right"};
  double sharpest = 0;
  for (const double rise : measures.rise_px)
    if (rise > 0 && (sharpest == 0 || rise < sharpest)) sharpest = rise;
  // Twice as soft, and soft enough to be seen at all.
  constexpr double kTwice = 2;
  constexpr double kLeast_px = 5;
  std::size_t softest = 0;
  for (std::size_t i = 1; i < measures.rise_px.size(); ++i)
    if (measures.rise_px[i] > measures.rise_px[softest]) softest = i;
  const double most = measures.rise_px[softest];
  return sharpest > 0 && most > kTwice * sharpest && most > kLeast_px ? kNames[softest] : "";
}

}  // namespace papillote::calibration
