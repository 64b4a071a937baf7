#include "stages/lines/examine.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <opencv2/imgproc.hpp>

#include "stages/lines/grouping.h"
#include "stages/lines/ink.h"
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

// Sizes that no writing has are not worth a closer look.
bool too_small_or_large(const InkLine& line, double px_per_mm) {
  const double height_mm = line.height() / px_per_mm, length_mm = line.length() / px_per_mm;
  constexpr double kLeastInk_mm2 = 0.8;
  return height_mm < 0.9 || length_mm < 1.2 || height_mm > 16 ||
         static_cast<double>(line.ink.size()) < kLeastInk_mm2 * px_per_mm * px_per_mm;
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

TextLine text_line(const InkLine& line, const KindGuess& guess, const cv::Matx33d& photo_from_map) {
  TextLine text;
  text.polygon_px = in_photo(line, line.u0, line.u1, line.v0, line.v1, photo_from_map);
  const double above = 0.10 * line.height(), beside = 0.35 * line.height();
  const Polygon strip = in_photo(line, line.u0 - beside, line.u1 + beside, line.v0 - above, line.v1 + above, photo_from_map);
  std::copy(strip.begin(), strip.end(), text.quad_px.begin());
  text.kind = guess.kind;
  text.kind_confidence = guess.confidence;
  text.confidence = guess.writing;
  return text;
}

}  // namespace

Examined examine(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo) {
  Examined all;
  all.paper = "plain";
  const Cutout cutout = cut(envelope, px_per_mm_at(envelope, calibration), photo);
  constexpr int kSmallestPx = 24;
  if (std::min(cutout.bgr.rows, cutout.bgr.cols) < kSmallestPx) return all;
  const InkMap map = map_ink(cutout.bgr, cutout.face, cutout.px_per_mm);
  auto printed = split_newsprint(map);
  if (printed) all.paper = "newsprint";
  const auto keep = [&](std::vector<InkLine> lines, bool newsprint) {
    std::erase_if(lines, [&](const InkLine& line) { return too_small_or_large(line, map.px_per_mm); });
    for (InkLine& line : lines) face_forward(line);
    order(lines);
    for (const InkLine& line : lines) {
      const Traits traits = newsprint ? Traits{} : traits_of(line, map);
      const KindGuess guess = newsprint ? KindGuess{LineKind::newsprint, 0.9, 1} : guess_kind(traits);
      all.lines.push_back(text_line(line, guess, cutout.photo_from_map));
      all.traits.push_back(traits);
    }
  };
  keep(group_ink(printed ? printed->annotation : map.ink, map.px_per_mm, printed ? kBroken : 1), false);
  if (printed) keep(std::move(printed->print), true);
  return all;
}

}  // namespace papillote::lines
