// Capture cards and codes drawn for tests.
#pragma once

#include <array>
#include <cmath>
#include <string>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include <ZXing/BitMatrix.h>
#include <ZXing/MultiFormatWriter.h>

#include "pipeline/record/geometry.h"

namespace papillote::calibration::draw {

// Markers 0-3 of dictionary 4x4_50 with their black frame, one character a cell, '#' = white. Written out from pictures
// that OpenCV 4.6's contributed module aruco drew (cv::aruco::drawMarker, DICT_4X4_50, 6 x 6 px, one border cell).
inline constexpr std::array<std::array<const char*, 6>, 4> kMarkers{{
    {"......", ".#.##.", "..#.#.", "...##.", "...#..", "......"},
    {"......", "......", ".####.", ".#..#.", ".#.#..", "......"},
    {"......", "...##.", "...##.", "...#..", ".##.#.", "......"},
    {"......", ".#..#.", ".#..#.", "..#...", "..##..", "......"},
}};

// As in the project's card: mm from the card's upper left corner.
inline constexpr std::array<Point, 4> kMarkerAt_mm{{{2, 2}, {93, 2}, {93, 43}, {2, 43}}};
inline constexpr std::array<std::array<int, 3>, 12> kPatches_rgb{{{243, 243, 242},
                                                                  {200, 200, 200},
                                                                  {160, 160, 160},
                                                                  {122, 122, 121},
                                                                  {85, 85, 85},
                                                                  {52, 52, 52},
                                                                  {56, 61, 150},
                                                                  {70, 148, 73},
                                                                  {175, 54, 60},
                                                                  {231, 199, 31},
                                                                  {187, 86, 149},
                                                                  {8, 133, 161}}};

inline constexpr double kDrawn_px_per_mm = 24;

inline cv::Rect mm_rect(double x, double y, double w, double h) {
  const double s = kDrawn_px_per_mm;
  return {cvRound(x * s), cvRound(y * s), cvRound(w * s), cvRound(h * s)};
}

inline cv::Mat card() {
  cv::Mat picture(cvRound(60 * kDrawn_px_per_mm), cvRound(110 * kDrawn_px_per_mm), CV_8UC3, cv::Scalar::all(245));
  for (std::size_t id = 0; id < 4; ++id)
    for (std::size_t y = 0; y < 6; ++y)
      for (std::size_t x = 0; x < 6; ++x)
        picture(mm_rect(kMarkerAt_mm[id].x + 2.5 * double(x), kMarkerAt_mm[id].y + 2.5 * double(y), 2.5, 2.5)) =
            cv::Scalar::all(kMarkers[id][y][x] == '#' ? 245 : 15);
  for (int mm = 5; mm <= 105; ++mm) picture(mm_rect(mm - 0.05, 19, 0.1, mm % 10 == 5 ? 4 : 2)) = cv::Scalar::all(20);
  for (std::size_t k = 0; k < 12; ++k)
    picture(mm_rect(7 + 8 * double(k), 29.5, 7.6, 11.5)) = cv::Scalar(kPatches_rgb[k][2], kPatches_rgb[k][1], kPatches_rgb[k][0]);
  return picture;
}

// Lays a drawn thing on the photograph: `px_from_mm` takes mm on the thing to photograph pixels (record coordinates).
inline void lay(const cv::Mat& thing, const cv::Matx33d& px_from_mm, cv::Mat& photo, double drawn_px_per_mm = kDrawn_px_per_mm) {
  const cv::Matx33d half(1, 0, 0.5, 0, 1, 0.5, 0, 0, 1);
  const cv::Matx33d mm_from_drawn = cv::Matx33d::diag({1 / drawn_px_per_mm, 1 / drawn_px_per_mm, 1});
  // Supersampled three times: edges get the light of whole pixels.
  constexpr int kFiner = 3;
  const cv::Matx33d finer = cv::Matx33d::diag({kFiner, kFiner, 1});
  const cv::Matx33d from_drawn = half.inv() * finer * px_from_mm * mm_from_drawn * half;
  cv::Mat large;
  cv::resize(photo, large, {}, kFiner, kFiner, cv::INTER_NEAREST);
  cv::warpPerspective(thing, large, from_drawn, large.size(), cv::INTER_AREA, cv::BORDER_TRANSPARENT);
  cv::resize(large, photo, photo.size(), 0, 0, cv::INTER_AREA);
}

inline cv::Matx33d turned_and_tilted(double px_per_mm, double turned_deg, cv::Point2d at_px, cv::Point2d tilt = {}) {
  const double c = px_per_mm * std::cos(turned_deg * CV_PI / 180);
  const double s = px_per_mm * std::sin(turned_deg * CV_PI / 180);
  return {c + at_px.x * tilt.x, -s + at_px.x * tilt.y, at_px.x, s + at_px.y * tilt.x, c + at_px.y * tilt.y, at_px.y, tilt.x, tilt.y, 1};
}

inline Point applied(const cv::Matx33d& h, double x, double y) {
  const cv::Vec3d p = h * cv::Vec3d(x, y, 1);
  return {p[0] / p[2], p[1] / p[2]};
}

inline cv::Mat table(int width_px, int height_px, double grey = 120) { return {height_px, width_px, CV_8UC3, cv::Scalar::all(grey)}; }

inline void add_noise(cv::Mat& photo, double sigma, std::uint64_t seed) {
  cv::Mat noise(photo.size(), CV_16SC3);
  cv::RNG rng(seed);
  rng.fill(noise, cv::RNG::NORMAL, 0, sigma);
  cv::add(photo, noise, photo, cv::noArray(), CV_8U);
}

// A code with its quiet zone, `module_px` pixels a module.
inline cv::Mat code(const std::string& text, ZXing::BarcodeFormat format, int module_px) {
  ZXing::MultiFormatWriter writer(format);
  writer.setMargin(2);
  const ZXing::BitMatrix matrix = writer.encode(text, 0, 0);
  cv::Mat small(matrix.height(), matrix.width(), CV_8UC3);
  for (int y = 0; y < small.rows; ++y)
    for (int x = 0; x < small.cols; ++x) small.at<cv::Vec3b>(y, x) = matrix.get(x, y) ? cv::Vec3b(25, 25, 25) : cv::Vec3b(240, 240, 240);
  cv::Mat large;
  cv::resize(small, large, {}, module_px, module_px, cv::INTER_NEAREST);
  return large;
}

}  // namespace papillote::calibration::draw
