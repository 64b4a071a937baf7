#include "stages/lines/lines.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <opencv2/imgproc.hpp>

#include "stages/lines/grouping.h"
#include "stages/lines/ink.h"
#include "stages/lines/kinds.h"
#include "stages/lines/newsprint.h"

namespace papillote::lines {
namespace {

constexpr double kWorking_px_per_mm = 9;
constexpr int kLargestPx = 1600;

double distance(const Point& a, const Point& b) { return std::hypot(a.x - b.x, a.y - b.y); }

// Scale of the photograph at this envelope. Without a scale an envelope counts as of usual size.
double px_per_mm_at(const EnvelopeOutline& envelope, const Calibration& calibration) {
  constexpr double kUsualSide_mm = 80;
  const Quad& q = envelope.crop.quad_px;
  const double width = distance(q[0], q[1]), height = distance(q[0], q[3]);
  if (envelope.size_mm && envelope.size_mm->x > 0) return width / envelope.size_mm->x;
  if (calibration.px_per_mm && *calibration.px_per_mm > 0) return *calibration.px_per_mm;
  return std::max(width, height) / kUsualSide_mm;
}

// The cut-out at working size, with its way back to the photograph.
struct Cutout {
  cv::Mat bgr;
  cv::Mat face;
  double px_per_mm;
  cv::Matx33d photo_from_map;
};

Cutout cut(const EnvelopeOutline& envelope, double px_per_mm, const image::Image& photo) {
  Crop crop = envelope.crop;
  const double width = distance(crop.quad_px[0], crop.quad_px[1]), height = distance(crop.quad_px[0], crop.quad_px[3]);
  const double scale = std::min({1.0, kWorking_px_per_mm / px_per_mm, kLargestPx / std::max(width, height)});
  crop.width_px = std::max(1, static_cast<int>(std::lround(width * scale)));
  crop.height_px = std::max(1, static_cast<int>(std::lround(height * scale)));
  const cv::Matx33d map_from_photo = image::crop_from_photo(crop);
  Cutout out{image::rectify(photo, crop), cv::Mat::zeros(crop.height_px, crop.width_px, CV_8U), px_per_mm * scale, map_from_photo.inv()};
  std::vector<cv::Point> outline;
  for (const Point& p : image::carried(envelope.polygon_px, map_from_photo)) outline.emplace_back(cvRound(p.x), cvRound(p.y));
  cv::fillPoly(out.face, std::vector<std::vector<cv::Point>>{outline}, 255);
  return out;
}

Polygon in_photo(const InkLine& line, double u0, double u1, double v0, double v1, const cv::Matx33d& photo_from_map) {
  const Axes axes(line.along_deg);
  Polygon corners;
  for (const cv::Point2d p : {axes.at(u0, v0), axes.at(u1, v0), axes.at(u1, v1), axes.at(u0, v1)}) corners.push_back({p.x, p.y});
  return image::carried(corners, photo_from_map);
}

// Writing fills its box with strokes in a certain measure: less is dust, more is a blot.
double writing_likeness(const InkLine& line, double px_per_mm) {
  const double height_mm = line.height() / px_per_mm, length_mm = line.length() / px_per_mm;
  if (height_mm < 0.9 || length_mm < 1.2 || height_mm > 16) return 0;
  const double filled = static_cast<double>(line.ink.size()) / (line.length() * line.height());
  if (filled < 0.04 || filled > 0.7) return 0;
  const double enough = 1 - std::exp(-static_cast<double>(line.ink.size()) / (3.0 * px_per_mm * px_per_mm));
  return enough * (filled < 0.08 || filled > 0.5 ? 0.6 : 1.0);
}

// Text reads left to right or bottom to top where nothing else is known.
void face_forward(InkLine& line) {
  if (line.along_deg > 80) {
    line.along_deg -= 180;
    std::swap(line.u0, line.u1);
    std::swap(line.v0, line.v1);
    line.u0 = -line.u0, line.u1 = -line.u1, line.v0 = -line.v0, line.v1 = -line.v1;
  }
}

// Directions one after the other, that with most ink first; within one, rows from above, each row from its start.
void order(std::vector<InkLine>& lines) {
  struct Group {
    double along_deg;
    double ink;
    std::vector<InkLine> lines;
  };
  std::stable_sort(lines.begin(), lines.end(), [](const InkLine& a, const InkLine& b) { return a.ink.size() > b.ink.size(); });
  std::vector<Group> groups;
  constexpr double kSameDirection_deg = 18;
  for (InkLine& line : lines) {
    auto group = std::find_if(groups.begin(), groups.end(), [&](const Group& g) {
      return std::abs(std::remainder(g.along_deg - line.along_deg, 360.0)) < kSameDirection_deg;
    });
    if (group == groups.end()) group = groups.insert(groups.end(), Group{line.along_deg, 0, {}});
    group->ink += static_cast<double>(line.ink.size());
    group->lines.push_back(std::move(line));
  }
  std::stable_sort(groups.begin(), groups.end(), [](const Group& a, const Group& b) { return a.ink > b.ink; });
  lines.clear();
  for (Group& group : groups) {
    const Axes axes(group.along_deg);
    const auto middle = [&](const InkLine& line) {
      const cv::Point2d p = Axes(line.along_deg).at((line.u0 + line.u1) / 2, (line.v0 + line.v1) / 2);
      return cv::Point2d(axes.u(p), axes.v(p));
    };
    std::stable_sort(group.lines.begin(), group.lines.end(), [&](const InkLine& a, const InkLine& b) { return middle(a).y < middle(b).y; });
    while (!group.lines.empty()) {
      // Those beside the uppermost line form its row.
      const double row = middle(group.lines.front()).y, reach = 0.4 * group.lines.front().height();
      const auto end = std::stable_partition(group.lines.begin(), group.lines.end(),
                                             [&](const InkLine& line) { return middle(line).y < row + reach; });
      std::stable_sort(group.lines.begin(), end, [&](const InkLine& a, const InkLine& b) { return middle(a).x < middle(b).x; });
      std::move(group.lines.begin(), end, std::back_inserter(lines));
      group.lines.erase(group.lines.begin(), end);
    }
  }
}

TextLine text_line(const InkLine& line, const KindGuess& guess, double px_per_mm, const cv::Matx33d& photo_from_map) {
  TextLine text;
  text.polygon_px = in_photo(line, line.u0, line.u1, line.v0, line.v1, photo_from_map);
  const double above = 0.10 * line.height(), beside = 0.35 * line.height();
  const Polygon strip = in_photo(line, line.u0 - beside, line.u1 + beside, line.v0 - above, line.v1 + above, photo_from_map);
  std::copy(strip.begin(), strip.end(), text.quad_px.begin());
  text.kind = guess.kind;
  text.kind_confidence = guess.confidence;
  text.confidence = writing_likeness(line, px_per_mm);
  return text;
}

constexpr double kLeastLikeness = 0.3;

}  // namespace

Result<LineLayout> find_lines(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo) {
  LineLayout layout;
  layout.paper = "plain";
  const Cutout cutout = cut(envelope, px_per_mm_at(envelope, calibration), photo);
  constexpr int kSmallestPx = 24;
  if (std::min(cutout.bgr.rows, cutout.bgr.cols) < kSmallestPx) return layout;
  const InkMap map = map_ink(cutout.bgr, cutout.face, cutout.px_per_mm);
  const auto printed = split_newsprint(map);
  if (printed) layout.paper = "newsprint";
  std::vector<InkLine> found = group_ink(printed ? printed->annotation : map.ink, map.px_per_mm, printed ? kBroken : 1);
  const auto settle = [&](std::vector<InkLine>& lines) {
    std::erase_if(lines, [&](const InkLine& line) { return writing_likeness(line, map.px_per_mm) < kLeastLikeness; });
    for (InkLine& line : lines) face_forward(line);
    order(lines);
  };
  settle(found);
  for (const InkLine& line : found) {
    const KindGuess guess = guess_kind(traits_of(line, map));
    layout.lines.push_back(text_line(line, guess, map.px_per_mm, cutout.photo_from_map));
  }
  if (printed) {
    std::vector<InkLine> print = printed->print;
    settle(print);
    for (const InkLine& line : print)
      layout.lines.push_back(text_line(line, {LineKind::newsprint, 0.9}, map.px_per_mm, cutout.photo_from_map));
  }
  return layout;
}

}  // namespace papillote::lines
