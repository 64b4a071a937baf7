#include "stages/segmentation/refine.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "pipeline/image/edge.h"
#include "stages/segmentation/shapes.h"

namespace papillote::segmentation {

Polygon refined(const std::array<cv::Mat, 3>& channels, const Polygon& polygon_px, double reach_px) {
  const std::size_t n = polygon_px.size();
  std::vector<image::Line> sides;
  for (std::size_t i = 0; i < n; ++i) {
    const Point& a = polygon_px[i];
    const Point& b = polygon_px[(i + 1) % n];
    const double length = std::max(1e-9, std::hypot(b.x - a.x, b.y - a.y));
    image::Line side{{a.x, a.y}, {(b.x - a.x) / length, (b.y - a.y) / length}};
    double most = 0;
    const bool long_enough = length > 5 * reach_px;
    for (const cv::Mat& channel : channels) {
      if (!long_enough) break;
      const auto fit = image::fit_edge(channel, a, b, reach_px, image::Polarity::either);
      if (!fit || fit->support < 0.6 || std::abs(fit->contrast) <= most) continue;
      most = std::abs(fit->contrast);
      side = fit->line;
    }
    sides.push_back(side);
  }
  Polygon placed;
  for (std::size_t i = 0; i < n; ++i) {
    const auto corner = image::crossing(sides[(i + n - 1) % n], sides[i]);
    const Point& before = polygon_px[i];
    placed.push_back(corner && std::hypot(corner->x - before.x, corner->y - before.y) < 3 * reach_px ? *corner : before);
  }
  const auto convex = [](const Polygon& polygon) {
    Shape shape;
    for (const Point& p : polygon) shape.emplace_back(p.x, p.y);
    return is_convex(shape);
  };
  return convex(placed) || !convex(polygon_px) ? placed : polygon_px;
}

}  // namespace papillote::segmentation
