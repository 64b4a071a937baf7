#include "stages/reading/strip.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace papillote::reading {
namespace {

double distance(const Point& a, const Point& b) { return std::hypot(a.x - b.x, a.y - b.y); }

// Grey value below which `share` of the pixels lie.
int quantile(const cv::Mat& grey, double share) {
  std::array<int, 256> count{};
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x) ++count[grey.at<std::uint8_t>(y, x)];
  const double wanted = share * grey.rows * grey.cols;
  double seen = 0;
  for (int value = 0; value < 256; ++value)
    if ((seen += count[static_cast<std::size_t>(value)]) >= wanted) return value;
  return 255;
}

cv::Mat to_grey(const cv::Mat& picture) {
  cv::Mat grey;
  if (picture.channels() == 1)
    grey = picture.clone();
  else
    cv::cvtColor(picture, grey, picture.channels() == 4 ? cv::COLOR_BGRA2GRAY : cv::COLOR_BGR2GRAY);
  return grey;
}

}  // namespace

TextLine turned_half(const TextLine& line) {
  TextLine turned = line;
  turned.quad_px = {line.quad_px[2], line.quad_px[3], line.quad_px[0], line.quad_px[1]};
  return turned;
}

cv::Mat cut_strip(const image::Image& photo, const TextLine& line, int height_px, bool upside_down) {
  const Quad quad = upside_down ? turned_half(line).quad_px : line.quad_px;
  const double long_px = std::max(distance(quad[0], quad[1]), distance(quad[3], quad[2]));
  const double high_px = std::max(1.0, std::max(distance(quad[0], quad[3]), distance(quad[1], quad[2])));
  constexpr int kWidestPx = 4096;
  const int width_px = std::clamp(static_cast<int>(std::lround(long_px / high_px * height_px)), 1, kWidestPx);

  // Shrinking by interpolation alone would drop thin strokes: cut at the photograph's own resolution, then average.
  const double shrink = high_px / height_px;
  cv::Mat strip;
  if (shrink > 1.0) {
    const cv::Size native(std::max(1, static_cast<int>(std::lround(width_px * shrink))), static_cast<int>(std::lround(high_px)));
    cv::resize(image::rectify(photo, quad, native), strip, cv::Size(width_px, height_px), 0, 0, cv::INTER_AREA);
  } else {
    strip = image::rectify(photo, quad, cv::Size(width_px, height_px));
  }
  cv::Mat grey = to_grey(strip);

  if (line.polygon_px.size() >= 3) {
    const cv::Matx33d strip_from_photo =
        image::crop_from_photo(Crop{quad, width_px, height_px});
    std::vector<cv::Point> outline;
    for (const Point& p : image::carried(line.polygon_px, strip_from_photo))
      outline.emplace_back(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y)));
    cv::Mat inside = cv::Mat::zeros(grey.size(), CV_8UC1);
    cv::fillPoly(inside, std::vector<std::vector<cv::Point>>{outline}, 255);
    const int margin = std::max(1, height_px / 12);
    cv::dilate(inside, inside, cv::getStructuringElement(cv::MORPH_RECT, cv::Size(4 * margin + 1, 2 * margin + 1)));
    grey.setTo(quantile(grey, 0.75), inside == 0);
  }
  return grey;
}

cv::Mat grey_line(const cv::Mat& picture) {
  cv::Mat grey = to_grey(picture);
  // The ground is what most pixels are; writing lies far from it, on its dark side or on its light side.
  const double ground = quantile(grey, 0.5);
  double dark = 0, light = 0;
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x) {
      const double away = grey.at<std::uint8_t>(y, x) - ground;
      (away < 0 ? dark : light) += std::abs(away * away * away);
    }
  if (ground < 128 && light > 2 * dark) grey = 255 - grey;
  return grey;
}

cv::Mat flattened(const cv::Mat& grey) {
  if (grey.rows < 3 || grey.cols < 3) return grey.clone();
  cv::Mat paper;
  const int reach = std::max(3, grey.rows / 2) | 1;
  cv::morphologyEx(grey, paper, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, cv::Size(reach, reach)));
  cv::blur(paper, paper, cv::Size(reach, reach));
  cv::Mat flat;
  cv::divide(grey, paper, flat, 255.0);
  const int black = quantile(flat, 0.005);
  const double stretch = 255.0 / std::max(40, 255 - black);
  flat.convertTo(flat, CV_8U, stretch, 255.0 - 255.0 * stretch);
  return flat;
}

}  // namespace papillote::reading
