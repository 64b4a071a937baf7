// Where one envelope lies in one photograph, and how to cut it out upright.
#pragma once

#include <optional>
#include <string>

#include "pipeline/record/geometry.h"

namespace papillote {

// A recipe for an upright cut-out; it holds no pixels.
struct Crop {
  Quad quad_px{};      // corners in the photograph; first = upper left of the cut-out
  int width_px = 0;    // size of the cut-out
  int height_px = 0;

  bool operator==(const Crop&) const = default;
};

struct EnvelopeOutline {
  int number = 0;                  // 0, 1, 2 ... in reading order of the sheet (rows, then left to right)
  Polygon polygon_px;              // visible outline, clockwise
  Crop crop;                       // smallest rectangle around it, sides along the envelope's own edges
  std::string shape;               // "triangle", "rectangle", "trapezoid", "polygon"
  std::optional<Point> size_mm;    // x = width, y = height of the crop; nothing without a scale
  bool cut_off = false;            // the frame of the photograph cuts it
  double confidence = 0;           // that this is one envelope, 0..1
  Polygon whole_px{};              // where another lies on it: the whole outline, hidden parts inferred; else empty

  bool operator==(const EnvelopeOutline&) const = default;
};

}  // namespace papillote
