#include "placing.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace papillote::samples {

bool overlap(const Polygon& a, const Polygon& b) {
  std::vector<cv::Point2f> fa;
  std::vector<cv::Point2f> fb;
  for (const Point& p : a) fa.emplace_back(cv::Point2f(p));
  for (const Point& p : b) fb.emplace_back(cv::Point2f(p));
  std::vector<cv::Point2f> common;
  return cv::intersectConvexConvex(fa, fb, common) > 0.05F;
}

bool place_block(const FontShelf& shelf, EnvelopePlan& plan, const BlockWish& wish, std::size_t ink, Random& random) {
  const Polygon region = turned(grown(plan.paper_mm, -random.between(2.6, 4.2)), -wish.direction_deg);
  const Bounds room = bounds(region);
  const double alignment = random.unit();  // below 0.55 left, below 0.8 following the edge, else centred
  const double pitch_factor = random.between(1.12, 1.5);
  const std::uint64_t seed = random.next();

  Lettering lettering = wish.lettering;
  for (; lettering.x_height_mm >= wish.smallest_x_height_mm; lettering.x_height_mm *= 0.93) {
    Random words{seed};
    std::vector<SetLine> lines;
    for (const std::string& text : wish.lines) lines.push_back(set_line(shelf, lettering, text, words.branch()));
    // Baselines below each other so that descenders clear ascenders by a little.
    std::vector<double> baseline{-lines[0].ink_mm.top};
    for (std::size_t i = 1; i < lines.size(); ++i) {
      const double step = std::max(lines[i - 1].ink_mm.bottom * 0.75 - lines[i].ink_mm.top * 0.92, lettering.x_height_mm * 2.0) ;
      baseline.push_back(baseline.back() + step * pitch_factor * 0.95);
    }
    const double height = baseline.back() + lines.back().ink_mm.bottom;
    if (height > room.height()) continue;
    for (int attempt = 0; attempt < 40; ++attempt) {
      const double top = room.top + random.unit() * (room.height() - height);
      std::vector<std::pair<double, double>> spans;
      double common_left = -1e9;
      double common_right = 1e9;
      bool fits = true;
      for (std::size_t i = 0; i < lines.size() && fits; ++i) {
        const auto upper = span_at(region, top + baseline[i] + lines[i].ink_mm.top);
        const auto lower = span_at(region, top + baseline[i] + lines[i].ink_mm.bottom);
        spans.emplace_back(std::max(upper.first, lower.first), std::min(upper.second, lower.second));
        fits = spans.back().second - spans.back().first >= lines[i].ink_mm.width();
        common_left = std::max(common_left, spans.back().first);
        common_right = std::min(common_right, spans.back().second);
      }
      if (!fits) continue;
      double widest = 0;
      for (const SetLine& line : lines) widest = std::max(widest, line.ink_mm.width());
      const bool left = alignment < 0.55 && common_right - common_left >= widest;
      const double offset = left ? random.unit() * (common_right - common_left - widest) : 0.0;
      std::vector<PlacedLine> placed;
      const double slope = wish.kind == LineKind::handwritten ? random.normal(0, 0.8) : random.normal(0, 0.35);
      for (std::size_t i = 0; i < lines.size(); ++i) {
        const double free = spans[i].second - spans[i].first - lines[i].ink_mm.width();
        double x = left ? common_left + offset + std::min(1.2, std::max(0.0, free - offset)) * random.unit() * 0.5
                        : spans[i].first + free * (alignment < 0.8 ? random.between(0.0, 0.15) : random.between(0.42, 0.58));
        x = std::min(x, spans[i].second - lines[i].ink_mm.width());
        PlacedLine line;
        line.set = lines[i];
        line.text = wish.lines[i];
        line.ink = ink;
        const double own = wish.kind == LineKind::handwritten ? slope + random.normal(0, 0.35) : slope;
        line.turned_deg = wish.direction_deg + own;
        line.start_mm = turned(Point{x - lines[i].ink_mm.left, top + baseline[i]}, wish.direction_deg);
        const Bounds& ink_mm = lines[i].ink_mm;
        line.polygon_mm = moved(turned(rectangle(ink_mm.left - 0.3, ink_mm.top - 0.25, ink_mm.right + 0.3, ink_mm.bottom + 0.25),
                                       line.turned_deg),
                                line.start_mm);
        placed.push_back(line);
      }
      bool clear = true;
      for (const PlacedLine& mine : placed) {
        for (const PlacedLine& other : plan.lines) clear = clear && !overlap(mine.polygon_mm, other.polygon_mm);
        for (const Point& corner : mine.polygon_mm) clear = clear && contains(plan.paper_mm, corner);
        if (wish.to_a_corner) {
          const Bounds b = bounds(mine.polygon_mm);
          clear = clear && length(b.middle() - centroid(plan.paper_mm)) > 0.16 * std::max(room.width(), room.height());
        }
      }
      if (!clear) continue;
      plan.lines.insert(plan.lines.end(), placed.begin(), placed.end());
      return true;
    }
  }
  return false;
}

}  // namespace papillote::samples
