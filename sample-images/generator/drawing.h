// A flat picture plane in millimetres, and vector drawing on it.
#pragma once
#include <cairo.h>

#include <memory>
#include <opencv2/core.hpp>

#include "geometry.h"

namespace papillote::samples {

struct Plane {
  double px_per_mm;
  Point origin_mm;  // the upper left corner of the upper left pixel
  cv::Size size;

  static Plane around(const Bounds& mm, double margin_mm, double px_per_mm);
  Point px(Point mm) const { return (mm - origin_mm) * px_per_mm; }
};

// Draws coverage: how much of each pixel is inked, cut or coated.
class MaskPainter {
 public:
  explicit MaskPainter(const Plane& plane);
  cairo_t* cairo() const { return context_.get(); }  // millimetre units
  void fill(const Polygon& mm, double strength = 1.0) const;
  void stroke(const Polygon& mm, double width_mm, double strength = 1.0, bool closed = false) const;
  cv::Mat coverage() const;  // CV_32F, 0..1

 private:
  cv::Mat pixels_;
  std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface_;
  std::unique_ptr<cairo_t, decltype(&cairo_destroy)> context_;
};

// Draws coloured things: wings, cards, slips.
class ColourPainter {
 public:
  explicit ColourPainter(const Plane& plane);
  cairo_t* cairo() const { return context_.get(); }  // millimetre units
  void fill(const Polygon& mm, unsigned rgb, double opacity = 1.0) const;
  // Lays the drawing over a linear reflectance picture (CV_32FC3); raises alpha (CV_32F) where given.
  void lay_over(cv::Mat& reflectance, cv::Mat* alpha, double opacity = 1.0) const;
  // The drawing itself: linear premultiplied colour and coverage.
  void split(cv::Mat& premultiplied, cv::Mat& coverage) const;

 private:
  cv::Mat pixels_;
  std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface_;
  std::unique_ptr<cairo_t, decltype(&cairo_destroy)> context_;
};

void trace(cairo_t* cairo, const Polygon& mm, bool closed = true);
// A closed curve through the points (Catmull-Rom).
void trace_smooth(cairo_t* cairo, const Polygon& mm, bool closed = true);
void set_rgb(cairo_t* cairo, unsigned rgb, double opacity = 1.0);
// Blur by a deviation in pixels; wide blurs work on a reduced copy.
void soften(cv::Mat& field, double sigma_px);
// picture * (1 - mask) + colour * mask, for CV_32FC3 and CV_32F.
void tint(cv::Mat& picture, const cv::Mat& mask, cv::Vec3f colour);
// picture * (1 - mask + mask * colour): a stain or ink that lets the paper through.
void stain(cv::Mat& picture, const cv::Mat& mask, cv::Vec3f colour);

}  // namespace papillote::samples
