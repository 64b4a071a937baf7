#include "stages/condition/change.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"
#include "pipeline/record/likeness.h"

namespace papillote::condition {
namespace {

constexpr int kGrid = 320;               // px along the longer side of the envelope in what is compared
constexpr double kSameOutline = 0.75;    // overlap of the two outlines, else the paper was refolded
constexpr double kNearby = 0.05;         // of the longer side: still the same finding
constexpr double kSure = 0.6;            // least confidence of a finding that is said to have grown
constexpr double kGrown = 1.3;           // times the area
constexpr double kDiffers = 0.12;        // of the light, beyond the slow change between the photographs
constexpr double kDifferingShare = 0.3;  // of a finding's region on the paper
constexpr double kWander_px = 3;         // that the grids of the two photographs may be apart
constexpr double kLeastPatch = 0.006;    // of the envelope's area: a change without a finding

// The crop turned by quarters: first corner another, sides swapped.
Crop turned(const Crop& crop, int quarters) {
  Crop out = crop;
  for (std::size_t k = 0; k < 4; ++k) out.quad_px[k] = crop.quad_px[(k + static_cast<std::size_t>(quarters)) % 4];
  if (quarters % 2 != 0) std::swap(out.width_px, out.height_px);
  return out;
}

double aspect_of(const Crop& crop) { return double(crop.width_px) / crop.height_px; }

cv::Mat filled(const Polygon& polygon_px, const Crop& crop, cv::Size frame) {
  const cv::Matx33d frame_from_crop =
      cv::Matx33d::diag({double(frame.width) / crop.width_px, double(frame.height) / crop.height_px, 1.0});
  return image::inside_of(image::carried(polygon_px, frame_from_crop * image::crop_from_photo(crop)), {{}, frame});
}

double area_of(const cv::Mat& mask) { return cv::countNonZero(mask); }

cv::Mat disc(double radius_px) {
  const int side = 2 * std::max(1, cvRound(radius_px)) + 1;
  return cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side});
}

// The earlier crop in the turn that lays it on the later one; nothing where none does.
std::optional<Crop> aligned(const IndexRecord& now, const IndexRecord& then, const cv::Mat& paper) {
  std::optional<Crop> best;
  double most = kSameOutline;
  for (int quarters = 0; quarters < 4; ++quarters) {
    const Crop crop = turned(then.outline.crop, quarters);
    if (std::abs(std::log(aspect_of(crop) / aspect_of(now.outline.crop))) > 0.2) continue;
    const cv::Mat other = filled(then.outline.polygon_px, crop, paper.size());
    // As read, unless another turn fits clearly better: the direction of the text settles what a rectangle leaves open.
    const double fit = area_of(paper & other) / std::max(1.0, area_of(paper | other)) + (quarters == 0 ? 0.05 : 0);
    if (fit <= most) continue;
    most = fit;
    best = crop;
  }
  return best;
}

// Logarithm of the light, so that another lamp adds.
cv::Mat light_of(const image::Image& photo, const Crop& crop, cv::Size frame) {
  cv::Mat picture, light;
  image::rectify(photo, crop.quad_px, frame).convertTo(picture, CV_32FC3, 1.0 / 255);
  cv::GaussianBlur(picture, picture, {}, 1.2);
  picture += cv::Scalar::all(0.02);
  cv::log(picture, light);
  return light;
}

// The surface of second order that fits `values` best where `mask` is set, without what lies far from it.
cv::Mat slow_part(const cv::Mat& values, const cv::Mat& mask) {
  const auto row_at = [&](int x, int y) {
    const double u = 2.0 * x / values.cols - 1, v = 2.0 * y / values.rows - 1;
    return cv::Vec<double, 6>(1, u, v, u * u, u * v, v * v);
  };
  cv::Mat kept = mask.clone(), surface = cv::Mat::zeros(values.size(), CV_32F);
  for (int round = 0; round < 4; ++round) {
    cv::Matx<double, 6, 6> normal = cv::Matx<double, 6, 6>::eye() * 1e-6;
    cv::Vec<double, 6> right;
    for (int y = 0; y < values.rows; y += 2)
      for (int x = 0; x < values.cols; x += 2) {
        if (kept.at<std::uint8_t>(y, x) == 0) continue;
        const auto row = row_at(x, y);
        normal += row * row.t();
        right += row * double(values.at<float>(y, x));
      }
    const cv::Vec<double, 6> solved = normal.solve(right, cv::DECOMP_CHOLESKY);
    for (int y = 0; y < values.rows; ++y)
      for (int x = 0; x < values.cols; ++x) surface.at<float>(y, x) = static_cast<float>(row_at(x, y).dot(solved));
    const cv::Mat off = cv::abs(values - surface);
    const double usual = cv::mean(off, kept)[0];
    kept = mask & (off < std::max(0.02, 1.5 * usual));
  }
  return surface;
}

// 255 where the paper is darker or lighter than then, whatever the light, and than anything near it was.
cv::Mat differing(const cv::Mat& now, const cv::Mat& then, const cv::Mat& paper) {
  const cv::Mat near = disc(kWander_px);
  cv::Mat inside;
  cv::erode(paper, inside, disc(2 * kWander_px), {-1, -1}, 1, cv::BORDER_CONSTANT, 0);
  std::array<cv::Mat, 3> a, b;
  cv::split(now, a.data());
  cv::split(then, b.data());
  cv::Mat darker = cv::Mat::zeros(paper.size(), CV_32F), lighter = darker.clone();
  for (std::size_t channel = 0; channel < 3; ++channel) {
    const cv::Mat same_light = a[channel] - slow_part(a[channel] - b[channel], inside);
    cv::Mat low, high;
    cv::erode(b[channel], low, near);
    cv::dilate(b[channel], high, near);
    darker = cv::max(darker, low - same_light);
    lighter = cv::max(lighter, same_light - high);
  }
  return inside & (cv::max(darker, lighter) > kDiffers);
}

Finding changed(const std::vector<cv::Point>& contour, double share, const IndexRecord& now, cv::Size frame,
                const std::string& taken_then) {
  const Crop& crop = now.outline.crop;
  Polygon region;
  for (const cv::Point& p : contour) region.push_back({p.x + 0.5, p.y + 0.5});
  const cv::Matx33d crop_from_frame =
      cv::Matx33d::diag({double(crop.width_px) / frame.width, double(crop.height_px) / frame.height, 1.0});
  Finding finding;
  finding.kind = kChanged;
  finding.severity = share > 0.05 ? 3 : share > 0.015 ? 2 : 1;
  finding.confidence = 0.7;  // no more is known of it than that it differs
  finding.polygon_px = image::carried(region, image::crop_from_photo(crop).inv() * crop_from_frame);
  if (now.outline.size_mm) {
    const cv::Rect box = cv::boundingRect(contour);
    finding.size_mm =
        std::max(box.width * now.outline.size_mm->x / frame.width, box.height * now.outline.size_mm->y / frame.height);
  }
  finding.words = "looks otherwise than in the earlier photograph";
  finding.grown_since = taken_then;
  return finding;
}

bool same_size(const EnvelopeOutline& a, const EnvelopeOutline& b, double tolerance) {
  const auto sides = [](const EnvelopeOutline& outline) {
    const Point size = outline.size_mm.value_or(Point{double(outline.crop.width_px), double(outline.crop.height_px)});
    return std::pair(std::min(size.x, size.y), std::max(size.x, size.y));
  };
  const auto [a_short, a_long] = sides(a);
  const auto [b_short, b_long] = sides(b);
  const bool in_mm = a.size_mm && b.size_mm;
  const auto near = [&](double x, double y) { return x > 0 && y > 0 && std::abs(std::log(x / y)) <= tolerance; };
  return in_mm ? near(a_short, b_short) && near(a_long, b_long) : near(a_short / a_long, b_short / b_long);
}

}  // namespace

std::vector<Finding> grown_findings(const Look& now, const Look& then, const std::string& taken_then) {
  const IndexRecord& record = now.record;
  const Crop& crop = record.outline.crop;
  std::vector<Finding> findings = record.condition.findings;
  if (!record.condition.judged || !then.record.condition.judged) return findings;
  if (std::min({crop.width_px, crop.height_px, then.record.outline.crop.width_px, then.record.outline.crop.height_px}) <= 0)
    return findings;
  const double scale = double(kGrid) / std::max(crop.width_px, crop.height_px);
  const cv::Size frame(std::max(1, cvRound(crop.width_px * scale)), std::max(1, cvRound(crop.height_px * scale)));
  const cv::Mat paper = filled(record.outline.polygon_px, crop, frame);
  const auto crop_then = aligned(record, then.record, paper);
  if (!crop_then) return findings;
  const cv::Mat both = paper & filled(then.record.outline.polygon_px, *crop_then, frame);
  const cv::Mat differs = differing(light_of(now.photo, crop, frame), light_of(then.photo, *crop_then, frame), both);

  cv::Mat unexplained = differs.clone();  // by a finding that grew; a doubtful one explains nothing
  for (Finding& finding : findings) {
    const cv::Mat here = filled(finding.polygon_px, crop, frame);
    cv::Mat around;
    cv::dilate(here, around, disc(kNearby * kGrid));
    if (finding.severity < 2 || finding.confidence < kSure) continue;
    cv::Mat there = cv::Mat::zeros(frame, CV_8U);
    for (const Finding& earlier : then.record.condition.findings) {
      const cv::Mat mask = filled(earlier.polygon_px, *crop_then, frame);
      if (earlier.kind == finding.kind && area_of(mask & around) > 0) there |= mask;
    }
    const double on_paper = area_of(here & both);
    const bool larger = area_of(there) == 0 || area_of(here) > kGrown * area_of(there);
    if (!larger || on_paper == 0 || area_of(differs & here) <= kDifferingShare * on_paper) continue;
    finding.grown_since = taken_then;
    unexplained.setTo(0, around);
  }

  cv::morphologyEx(unexplained, unexplained, cv::MORPH_OPEN, disc(2));
  cv::morphologyEx(unexplained, unexplained, cv::MORPH_CLOSE, disc(6));
  std::vector<std::vector<cv::Point>> patches;
  cv::findContours(unexplained, patches, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  for (const auto& patch : patches)
    if (const double share = cv::contourArea(patch) / area_of(paper); share > kLeastPatch)
      findings.push_back(changed(patch, share, record, frame, taken_then));
  return findings;
}

std::vector<std::pair<std::size_t, std::size_t>> same_envelopes(const std::vector<IndexRecord>& then,
                                                                const std::vector<IndexRecord>& now) {
  constexpr double kAlike = 0.6;
  constexpr std::size_t kLeastText = 6, kMostText = 240;
  struct Pair {
    double likeness;
    std::size_t then, now;
  };
  std::vector<std::string> texts_then, texts_now;
  for (const IndexRecord& record : then) texts_then.push_back(without_blanks(record.annotation.text).substr(0, kMostText));
  for (const IndexRecord& record : now) texts_now.push_back(without_blanks(record.annotation.text).substr(0, kMostText));
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < then.size(); ++i)
    for (std::size_t j = 0; j < now.size(); ++j) {
      const std::string &a = then[i].catalogue_number, &b = now[j].catalogue_number;
      if (!a.empty() && !b.empty()) {
        if (a == b) pairs.push_back({2, i, j});
        continue;
      }
      if (texts_then[i].size() >= kLeastText && texts_now[j].size() >= kLeastText) {
        if (!same_size(then[i].outline, now[j].outline, 0.12)) continue;
        const double alike = likeness(texts_then[i], texts_now[j]);
        if (alike >= kAlike) pairs.push_back({alike, i, j});
      } else if (texts_then[i].empty() && texts_now[j].empty() && i == j && then.size() == now.size() &&
                 then[i].outline.size_mm && now[j].outline.size_mm && same_size(then[i].outline, now[j].outline, 0.05)) {
        pairs.push_back({0, i, j});
      }
    }
  std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.likeness > b.likeness; });
  std::vector<bool> taken_then(then.size()), taken_now(now.size());
  std::vector<std::pair<std::size_t, std::size_t>> same;
  for (const Pair& pair : pairs) {
    if (taken_then[pair.then] || taken_now[pair.now]) continue;
    taken_then[pair.then] = taken_now[pair.now] = true;
    same.emplace_back(pair.then, pair.now);
  }
  return same;
}

}  // namespace papillote::condition
