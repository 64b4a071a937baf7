#include "camera.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "drawing.h"
#include "noise.h"

namespace papillote::samples {
namespace {

Point bent(const Camera& c, Point flat) {
  const Point centre(c.size_px.width / 2.0, c.size_px.height / 2.0);
  const double half = length(centre);
  const Point d = flat - centre;
  const double r2 = d.dot(d) / (half * half);
  return centre + d * (1 + c.radial * r2);
}

Point straightened(const Camera& c, Point seen) {
  const Point centre(c.size_px.width / 2.0, c.size_px.height / 2.0);
  const double half = length(centre);
  const Point d = seen - centre;
  Point p = d;
  for (int i = 0; i < 4; ++i) p = d * (1 / (1 + c.radial * p.dot(p) / (half * half)));
  return centre + p;
}

Point mapped(const cv::Matx33d& h, Point p) {
  const cv::Vec3d v = h * cv::Vec3d(p.x, p.y, 1);
  return {v[0] / v[2], v[1] / v[2]};
}

}  // namespace

Camera Camera::above(cv::Size size_px, double table_width_mm, double table_height_mm, Random& random) {
  Camera c;
  c.size_px = size_px;
  const double scale = std::min(size_px.width / table_width_mm, size_px.height / table_height_mm);
  const double turn = random.normal(0, 0.8) * CV_PI / 180;
  const double tilt_x = random.normal(0, 0.00004);  // per mm: keystone of a stand that is not quite level
  const double tilt_y = random.normal(0, 0.00004);
  const cv::Matx33d middle(1, 0, -table_width_mm / 2, 0, 1, -table_height_mm / 2, 0, 0, 1);
  const cv::Matx33d keystone(1, 0, 0, 0, 1, 0, tilt_x, tilt_y, 1);
  const cv::Matx33d rotate(std::cos(turn), -std::sin(turn), 0, std::sin(turn), std::cos(turn), 0, 0, 0, 1);
  const cv::Matx33d to_pixels(scale, 0, size_px.width / 2.0, 0, scale, size_px.height / 2.0, 0, 0, 1);
  c.flat_from_table_mm = to_pixels * rotate * keystone * middle;
  c.radial = random.normal(0, 0.006);
  c.blur_px = random.between(0.45, 0.85);
  c.sharpening = random.between(0.5, 1.1);
  c.noise = random.between(0.5, 1.8);
  c.exposure = random.between(0.82, 1.0);
  const double warm = random.normal(0, 0.06);
  c.cast = {1 - warm, 1 + random.normal(0, 0.012), 1 + warm};
  c.brighter = {random.normal(0, 0.1), random.normal(0, 0.08)};
  c.vignette = random.between(0.02, 0.22);
  c.jpeg_quality = random.whole(82, 89);
  return c;
}

Point Camera::photo_from_table(Point mm) const { return bent(*this, mapped(flat_from_table_mm, mm)); }
Point Camera::table_from_photo(Point px) const { return mapped(flat_from_table_mm.inv(), straightened(*this, px)); }

double Camera::px_per_mm_at(Point mm) const {
  const Point dx = photo_from_table(mm + Point{0.5, 0}) - photo_from_table(mm - Point{0.5, 0});
  const Point dy = photo_from_table(mm + Point{0, 0.5}) - photo_from_table(mm - Point{0, 0.5});
  return std::sqrt(std::abs(dx.x * dy.y - dx.y * dy.x));
}

cv::Mat photograph(const Camera& camera, const cv::Mat& flat, Point flat_origin_mm, double px_per_mm, Random& random) {
  const cv::Size size = camera.size_px;
  cv::Mat map(size, CV_32FC2);
  const cv::Matx33d back = camera.flat_from_table_mm.inv();
  for (int y = 0; y < size.height; ++y) {
    cv::Vec2f* row = map.ptr<cv::Vec2f>(y);
    // Exact at every 16th pixel, straight in between: the lens bends by less than a thousandth of a pixel there.
    const auto exact = [&](int x) {
      const Point mm = mapped(back, straightened(camera, {x + 0.5, y + 0.5}));
      return cv::Vec2f{static_cast<float>((mm.x - flat_origin_mm.x) * px_per_mm - 0.5), static_cast<float>((mm.y - flat_origin_mm.y) * px_per_mm - 0.5)};
    };
    cv::Vec2f from = exact(0);
    for (int x = 0; x < size.width; x += 16) {
      const cv::Vec2f to = exact(x + 16);
      for (int k = 0; k < std::min(16, size.width - x); ++k) row[x + k] = from + (to - from) * (static_cast<float>(k) / 16.0F);
      from = to;
    }
  }
  cv::Mat light;
  cv::remap(flat, light, map, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REFLECT_101);
  map.release();
  cv::GaussianBlur(light, light, {}, camera.blur_px);
  if (camera.sharpening > 0) {
    cv::Mat soft;
    cv::GaussianBlur(light, soft, {}, 1.1);
    cv::addWeighted(light, 1 + camera.sharpening, soft, -camera.sharpening, 0, light);
  }

  const cv::Mat grain = noise(size, 1.0, random);
  const cv::Mat grain_blue = noise(size, 1.3, random);
  const Point centre(size.width / 2.0, size.height / 2.0);
  cv::Mat out(size, CV_8UC3);
  std::vector<uchar> coded(4096);
  for (std::size_t i = 0; i < coded.size(); ++i) {
    const double v = static_cast<double>(i) / 4095;
    coded[i] = cv::saturate_cast<uchar>(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055));
  }
  for (int y = 0; y < size.height; ++y) {
    const cv::Vec3f* in = light.ptr<cv::Vec3f>(y);
    const float* g = grain.ptr<float>(y);
    const float* gb = grain_blue.ptr<float>(y);
    cv::Vec3b* to = out.ptr<cv::Vec3b>(y);
    const double v = (y - centre.y) / centre.y;
    for (int x = 0; x < size.width; ++x) {
      const double u = (x - centre.x) / centre.x;
      const double lamp = camera.exposure * (1 + camera.brighter.x * u + camera.brighter.y * v) * (1 - camera.vignette * 0.5 * (u * u + v * v));
      for (int c = 0; c < 3; ++c) {
        const double l = in[x][c] * lamp * camera.cast[c];
        const double n = camera.noise * (0.0012 + 0.006 * std::sqrt(std::max(0.0, l))) * (c == 1 ? g[x] : c == 0 ? 1.5 * gb[x] : 0.6 * g[x] - 0.7 * gb[x]);
        to[x][c] = coded[static_cast<std::size_t>(std::clamp((l + n) * 4095, 0.0, 4095.0))];
      }
    }
  }
  return out;
}

}  // namespace papillote::samples
