#include "pipeline/record/geometry.h"

#include <algorithm>
#include <cmath>

namespace papillote {

Point centroid_of(const Polygon& polygon) {
  if (polygon.empty()) return {};
  double area = 0;
  Point sum;
  Point low = polygon.front();
  Point high = polygon.front();
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point& a = polygon[i];
    const Point& b = polygon[(i + 1) % polygon.size()];
    const double cross = a.x * b.y - b.x * a.y;
    area += cross;
    sum.x += (a.x + b.x) * cross;
    sum.y += (a.y + b.y) * cross;
    low = {std::min(low.x, a.x), std::min(low.y, a.y)};
    high = {std::max(high.x, a.x), std::max(high.y, a.y)};
  }
  if (std::abs(area) < 1e-9) return {(low.x + high.x) / 2, (low.y + high.y) / 2};
  return {sum.x / (3 * area), sum.y / (3 * area)};
}

double area_of(const Polygon& polygon) {
  double twice = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point &a = polygon[i], &b = polygon[(i + 1) % polygon.size()];
    twice += a.x * b.y - b.x * a.y;
  }
  return std::abs(twice) / 2;
}

Point middle_of(const Quad& quad) {
  Point sum;
  for (const Point& p : quad) {
    sum.x += p.x / 4;
    sum.y += p.y / 4;
  }
  return sum;
}

}  // namespace papillote
