#include "drawing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"

namespace papillote::samples {

Plane Plane::around(const Bounds& mm, double margin_mm, double px_per_mm) {
  return {px_per_mm,
          {mm.left - margin_mm, mm.top - margin_mm},
          {static_cast<int>(std::ceil((mm.width() + 2 * margin_mm) * px_per_mm)),
           static_cast<int>(std::ceil((mm.height() + 2 * margin_mm) * px_per_mm))}};
}

namespace {

cv::Mat pixel_store(cv::Size size, int type, cairo_format_t format) {
  const int stride = cairo_format_stride_for_width(format, size.width);
  const int columns = stride / static_cast<int>(CV_ELEM_SIZE(type));
  return cv::Mat(size.height, columns, type, cv::Scalar::all(0));
}

cairo_t* millimetres(cairo_surface_t* surface, const Plane& plane) {
  cairo_t* cairo = cairo_create(surface);
  cairo_scale(cairo, plane.px_per_mm, plane.px_per_mm);
  cairo_translate(cairo, -plane.origin_mm.x, -plane.origin_mm.y);
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_ROUND);
  return cairo;
}

}  // namespace

MaskPainter::MaskPainter(const Plane& plane)
    : pixels_{pixel_store(plane.size, CV_8U, CAIRO_FORMAT_A8)},
      surface_{cairo_image_surface_create_for_data(pixels_.data, CAIRO_FORMAT_A8, plane.size.width, plane.size.height,
                                                   static_cast<int>(pixels_.step)),
               &cairo_surface_destroy},
      context_{millimetres(surface_.get(), plane), &cairo_destroy} {}

void MaskPainter::fill(const Polygon& mm, double strength) const {
  trace(cairo(), mm);
  cairo_set_source_rgba(cairo(), 0, 0, 0, strength);
  cairo_fill(cairo());
}

void MaskPainter::stroke(const Polygon& mm, double width_mm, double strength, bool closed) const {
  trace(cairo(), mm, closed);
  cairo_set_source_rgba(cairo(), 0, 0, 0, strength);
  cairo_set_line_width(cairo(), width_mm);
  cairo_stroke(cairo());
}

cv::Mat MaskPainter::coverage() const {
  cairo_surface_flush(surface_.get());
  cv::Mat out;
  pixels_.colRange(0, cairo_image_surface_get_width(surface_.get())).convertTo(out, CV_32F, 1.0 / 255.0);
  return out;
}

ColourPainter::ColourPainter(const Plane& plane)
    : pixels_{pixel_store(plane.size, CV_8UC4, CAIRO_FORMAT_ARGB32)},
      surface_{cairo_image_surface_create_for_data(pixels_.data, CAIRO_FORMAT_ARGB32, plane.size.width,
                                                   plane.size.height, static_cast<int>(pixels_.step)),
               &cairo_surface_destroy},
      context_{millimetres(surface_.get(), plane), &cairo_destroy} {}

void ColourPainter::fill(const Polygon& mm, unsigned rgb, double opacity) const {
  trace(cairo(), mm);
  set_rgb(cairo(), rgb, opacity);
  cairo_fill(cairo());
}

void ColourPainter::split(cv::Mat& premultiplied, cv::Mat& coverage) const {
  static const std::array<float, 256> linear = [] {
    std::array<float, 256> table{};
    for (int i = 0; i < 256; ++i) table[static_cast<std::size_t>(i)] = linear_from_srgb(i);
    return table;
  }();
  cairo_surface_flush(surface_.get());
  const int width = cairo_image_surface_get_width(surface_.get());
  premultiplied.create(pixels_.rows, width, CV_32FC3);
  coverage.create(pixels_.rows, width, CV_32F);
  for (int y = 0; y < pixels_.rows; ++y) {
    const cv::Vec4b* from = pixels_.ptr<cv::Vec4b>(y);
    cv::Vec3f* colour = premultiplied.ptr<cv::Vec3f>(y);
    float* alpha = coverage.ptr<float>(y);
    for (int x = 0; x < width; ++x) {
      const cv::Vec4b p = from[x];
      alpha[x] = static_cast<float>(p[3]) / 255.0F;
      if (p[3] == 0) {
        colour[x] = {0, 0, 0};
        continue;
      }
      for (int c = 0; c < 3; ++c) {
        const int straight = std::min(255, (p[c] * 255 + p[3] / 2) / p[3]);
        colour[x][c] = linear[static_cast<std::size_t>(straight)] * alpha[x];
      }
    }
  }
}

void ColourPainter::lay_over(cv::Mat& reflectance, cv::Mat* alpha, double opacity) const {
  cv::Mat colour;
  cv::Mat cover;
  split(colour, cover);
  const auto strength = static_cast<float>(opacity);
  for (int y = 0; y < reflectance.rows; ++y) {
    cv::Vec3f* to = reflectance.ptr<cv::Vec3f>(y);
    float* raised = alpha != nullptr ? alpha->ptr<float>(y) : nullptr;
    for (int x = 0; x < reflectance.cols; ++x) {
      const float a = cover.at<float>(y, x) * strength;
      if (a <= 0) continue;
      to[x] = to[x] * (1.0F - a) + colour.at<cv::Vec3f>(y, x) * strength;
      if (raised != nullptr) raised[x] = std::max(raised[x], a);
    }
  }
}

void trace(cairo_t* cairo, const Polygon& mm, bool closed) {
  cairo_new_path(cairo);
  for (const Point& p : mm) cairo_line_to(cairo, p.x, p.y);
  if (closed) cairo_close_path(cairo);
}

void trace_smooth(cairo_t* cairo, const Polygon& mm, bool closed) {
  const auto n = static_cast<int>(mm.size());
  const auto at = [&](int i) {
    return closed ? mm[static_cast<std::size_t>((i + n) % n)] : mm[static_cast<std::size_t>(std::clamp(i, 0, n - 1))];
  };
  cairo_new_path(cairo);
  cairo_move_to(cairo, mm[0].x, mm[0].y);
  for (int i = 0; i < (closed ? n : n - 1); ++i) {
    const Point one = at(i) + (at(i + 1) - at(i - 1)) * (1.0 / 6.0);
    const Point two = at(i + 1) - (at(i + 2) - at(i)) * (1.0 / 6.0);
    const Point end = at(i + 1);
    cairo_curve_to(cairo, one.x, one.y, two.x, two.y, end.x, end.y);
  }
  if (closed) cairo_close_path(cairo);
}

void set_rgb(cairo_t* cairo, unsigned rgb, double opacity) {
  cairo_set_source_rgba(cairo, ((rgb >> 16) & 255U) / 255.0, ((rgb >> 8) & 255U) / 255.0, (rgb & 255U) / 255.0, opacity);
}

void soften(cv::Mat& field, double sigma_px) {
  if (sigma_px < 0.3) return;
  if (sigma_px <= 4.0) {
    cv::GaussianBlur(field, field, {}, sigma_px);
    return;
  }
  const double factor = sigma_px / 5.0;
  const cv::Size full = field.size();
  const cv::Size reduced{std::max(2, static_cast<int>(full.width / factor)), std::max(2, static_cast<int>(full.height / factor))};
  cv::Mat small;
  cv::resize(field, small, reduced, 0, 0, cv::INTER_AREA);
  cv::GaussianBlur(small, small, {}, 4.9);
  cv::resize(small, field, full, 0, 0, cv::INTER_LINEAR);
  cv::GaussianBlur(field, field, {}, std::max(0.6, 0.6 * factor));  // or shading would show the seams
}

void tint(cv::Mat& picture, const cv::Mat& mask, cv::Vec3f colour) {
  for (int y = 0; y < picture.rows; ++y) {
    cv::Vec3f* p = picture.ptr<cv::Vec3f>(y);
    const float* m = mask.ptr<float>(y);
    for (int x = 0; x < picture.cols; ++x)
      if (m[x] > 0) p[x] = p[x] * (1.0F - m[x]) + colour * m[x];
  }
}

void stain(cv::Mat& picture, const cv::Mat& mask, cv::Vec3f colour) {
  const cv::Vec3f taken = cv::Vec3f{1, 1, 1} - colour;
  for (int y = 0; y < picture.rows; ++y) {
    cv::Vec3f* p = picture.ptr<cv::Vec3f>(y);
    const float* m = mask.ptr<float>(y);
    for (int x = 0; x < picture.cols; ++x)
      if (m[x] != 0)
        p[x] = {p[x][0] * (1 - m[x] * taken[0]), p[x][1] * (1 - m[x] * taken[1]), p[x][2] * (1 - m[x] * taken[2])};
  }
}

}  // namespace papillote::samples
