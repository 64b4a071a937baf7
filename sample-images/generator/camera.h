// The camera over the table: where a point of the table comes to lie in the photograph, and what the sensor makes of the light.
#pragma once
#include <opencv2/core.hpp>

#include "geometry.h"
#include "random.h"

namespace papillote::samples {

struct Camera {
  cv::Size size_px;
  cv::Matx33d flat_from_table_mm;  // perspective, before the lens bends it
  double radial = 0;               // of the lens, at the corner
  double blur_px = 0.6;            // focus and movement, standard deviation
  double sharpening = 0.7;         // by the camera itself
  double noise = 1.0;              // 1 = base sensitivity
  double exposure = 1.0;
  cv::Vec3d cast{1, 1, 1};         // B G R gain of the lamps' colour
  Point brighter{0, 0};            // unevenness of the light across the frame, -0.3 .. 0.3
  double vignette = 0.15;
  int jpeg_quality = 86;

  static Camera above(cv::Size size_px, double table_width_mm, double table_height_mm, Random& random);
  Point photo_from_table(Point mm) const;
  Point table_from_photo(Point px) const;
  double px_per_mm_at(Point mm) const;
};

// `flat` is the table in linear light at px_per_mm, its upper left corner at flat_origin_mm. 8-bit B G R.
cv::Mat photograph(const Camera& camera, const cv::Mat& flat, Point flat_origin_mm, double px_per_mm, Random& random);

}  // namespace papillote::samples
