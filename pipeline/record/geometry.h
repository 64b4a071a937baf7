// Points and polygons. Unless a name says otherwise they are in photograph pixels: x right, y down, origin
// at the outer corner of the upper left pixel, in the photograph as stored after EXIF orientation.
#pragma once

#include <array>
#include <vector>

namespace papillote {

struct Point {
  double x = 0;
  double y = 0;

  bool operator==(const Point&) const = default;
};

using Polygon = std::vector<Point>;

// Upper left, upper right, lower right, lower left of the thing when it stands upright (as its text reads).
using Quad = std::array<Point, 4>;

// Middle of the polygon's area; of its box where it has no area. An empty polygon gives (0, 0).
[[nodiscard]] Point centroid_of(const Polygon& polygon);
// Of a polygon that does not cross itself, whichever way it runs; 0 with fewer than three corners.
[[nodiscard]] double area_of(const Polygon& polygon);
// Mean of the four corners.
[[nodiscard]] Point middle_of(const Quad& quad);

}  // namespace papillote
