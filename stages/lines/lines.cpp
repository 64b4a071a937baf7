#include "stages/lines/lines.h"

#include <algorithm>
#include <cmath>

#include "pipeline/record/rank.h"
#include "stages/lines/cores.h"

namespace papillote::lines {
namespace {

constexpr double kMargin_mm = 2;
constexpr double kLeastConfidence = 0.5;

Polygon in_photo(const Core& line, double beside, double above, const cv::Matx33d& photo_from_map) {
  const Axes axes(line.along_deg);
  const double u0 = line.u0 - beside, u1 = line.u1 + beside, v0 = line.v0 - above, v1 = line.v1 + above;
  Polygon corners;
  for (const cv::Point2d p : {axes.at(u0, v0), axes.at(u1, v0), axes.at(u1, v1), axes.at(u0, v1)}) corners.push_back({p.x, p.y});
  return image::carried(corners, photo_from_map);
}

// Sizes that no writing has.
bool too_small_or_large(const Core& line, double px_per_mm) {
  const double height_mm = line.height() / px_per_mm, length_mm = line.length() / px_per_mm;
  return height_mm < 0.8 || height_mm > 20 || length_mm < 1.0;
}

// Directions one after the other, that with most writing first; within one, rows from above, each row from its start.
void order(std::vector<Core>& lines) {
  struct Group {
    double along_deg;
    double pixels;
    std::vector<Core> lines;
  };
  std::stable_sort(lines.begin(), lines.end(), [](const Core& a, const Core& b) { return a.pixels > b.pixels; });
  std::vector<Group> groups;
  constexpr double kSameDirection_deg = 18;
  for (const Core& line : lines) {
    auto group = std::find_if(groups.begin(), groups.end(), [&](const Group& g) {
      return std::abs(std::remainder(g.along_deg - line.along_deg, 360.0)) < kSameDirection_deg;
    });
    if (group == groups.end()) group = groups.insert(groups.end(), Group{line.along_deg, 0, {}});
    group->pixels += line.pixels;
    group->lines.push_back(line);
  }
  std::stable_sort(groups.begin(), groups.end(), [](const Group& a, const Group& b) { return a.pixels > b.pixels; });
  lines.clear();
  for (Group& group : groups) {
    const Axes axes(group.along_deg);
    const auto middle = [&](const Core& line) {
      const cv::Point2d p = Axes(line.along_deg).at((line.u0 + line.u1) / 2, (line.v0 + line.v1) / 2);
      return cv::Point2d(axes.u(p), axes.v(p));
    };
    std::stable_sort(group.lines.begin(), group.lines.end(), [&](const Core& a, const Core& b) { return middle(a).y < middle(b).y; });
    while (!group.lines.empty()) {
      // Those beside the uppermost line form its row.
      const double row = middle(group.lines.front()).y, reach = 0.4 * group.lines.front().height();
      const auto end = std::stable_partition(group.lines.begin(), group.lines.end(), [&](const Core& line) { return middle(line).y < row + reach; });
      std::stable_sort(group.lines.begin(), end, [&](const Core& a, const Core& b) { return middle(a).x < middle(b).x; });
      std::move(group.lines.begin(), end, std::back_inserter(lines));
      group.lines.erase(group.lines.begin(), end);
    }
  }
}

// Scraps between print and annotation have weak cores (measured on photographs that the net was not taught).
double confidence_of(const Core& line) {
  constexpr double kEven = 0.87, kScale = 0.02;
  return 1 / (1 + std::exp(-(line.firmness - kEven) / kScale));
}

LineKind kind_of(const Core& line) {
  const auto best = std::max_element(line.kinds.begin(), line.kinds.end() - (line.newsprint() ? 0 : 1));
  return kKinds[static_cast<std::size_t>(best - line.kinds.begin())];
}

// On a newspaper a line of type as high as the newspaper's own, and parallel to it, belongs to the newspaper.
void leave_to_newspaper(std::vector<Core>& annotation, std::vector<Core>& print) {
  std::vector<double> heights;
  for (const Core& line : print) heights.push_back(line.height());
  const double usual = median(std::move(heights));
  const auto own = std::stable_partition(annotation.begin(), annotation.end(), [&](const Core& line) {
    const LineKind kind = kind_of(line);
    if ((kind != LineKind::printed && kind != LineKind::typed) || std::abs(line.height() - usual) > 0.3 * usual) return true;
    return std::none_of(print.begin(), print.end(), [&](const Core& row) { return std::abs(std::remainder(row.along_deg - line.along_deg, 180.0)) < 6; });
  });
  for (auto line = own; line != annotation.end(); ++line) {
    line->kinds = {0, 0, 0, 0, 1};
    print.push_back(*line);
  }
  annotation.erase(own, annotation.end());
}

TextLine text_line(const Core& line, const cv::Matx33d& photo_from_map) {
  TextLine text;
  text.polygon_px = in_photo(line, 0, 0, photo_from_map);
  const Polygon strip = in_photo(line, 0.3 * line.height(), 0.07 * line.height(), photo_from_map);
  std::copy(strip.begin(), strip.end(), text.quad_px.begin());
  text.kind = kind_of(line);
  text.kind_confidence = *std::max_element(line.kinds.begin(), line.kinds.end());
  text.confidence = confidence_of(line);
  return text;
}

}  // namespace

Result<LineLayout> find_lines(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo,
                              const models::CropNet& net) {
  const auto marks = net.look(envelope, calibration, photo, kMargin_mm);
  if (!marks) return marks.failure();
  std::vector<Core> annotation = gather(*marks);
  std::erase_if(annotation, [&](const Core& line) {
    return too_small_or_large(line, marks->px_per_mm) || (!line.newsprint() && confidence_of(line) < kLeastConfidence);
  });
  const auto print_begins = std::stable_partition(annotation.begin(), annotation.end(), [](const Core& line) { return !line.newsprint(); });
  std::vector<Core> print(print_begins, annotation.end());
  annotation.erase(print_begins, annotation.end());
  LineLayout layout;
  constexpr std::size_t kPrinted = 4;  // lines of newsprint that make the paper a newspaper
  const bool newspaper = print.size() >= kPrinted;
  layout.paper = newspaper ? "newsprint" : "plain";
  if (newspaper) leave_to_newspaper(annotation, print);
  for (std::vector<Core>* lines : {&annotation, &print}) {
    order(*lines);
    for (const Core& line : *lines) layout.lines.push_back(text_line(line, marks->photo_from_map));
  }
  return layout;
}

}  // namespace papillote::lines
