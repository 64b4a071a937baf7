#include "stages/calibration/markers.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <optional>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/edge.h"

namespace papillote::calibration {
namespace {

// Dictionary 4x4_50, ids 0-3: sixteen cells row by row from the upper left, 1 = white. From memory of the published
// dictionary; tests hold them against a picture drawn by another implementation.
constexpr std::array<std::uint16_t, 4> kCodes{0xb532, 0x0f9a, 0x332d, 0x9946};

constexpr int kCells = 6;  // four of code and a black frame of one
constexpr double kSearchSide_px = 1800;
constexpr double kLeastContrast = 25;  // grey levels between frame and paper

double level_at(const cv::Mat& grey, const cv::Vec3d& p) {
  const int x = std::clamp(cvFloor(p[0] / p[2]), 0, grey.cols - 1);
  const int y = std::clamp(cvFloor(p[1] / p[2]), 0, grey.rows - 1);
  return grey.at<uchar>(y, x);
}

// Mean grey around (x, y) in units of cells.
double cell_level(const cv::Mat& grey, const cv::Matx33d& px_from_cell, double x, double y, double half) {
  double sum = 0;
  constexpr int kSamples = 5;
  for (int i = 0; i < kSamples; ++i)
    for (int j = 0; j < kSamples; ++j)
      sum += level_at(grey, px_from_cell * cv::Vec3d(x + half * (i / 2.0 - 1), y + half * (j / 2.0 - 1), 1));
  return sum / (kSamples * kSamples);
}

// A quarter turn clockwise of the code as seen.
std::uint16_t turned(std::uint16_t code) {
  std::uint16_t out = 0;
  for (int y = 0; y < 4; ++y)
    for (int x = 0; x < 4; ++x)
      if (code >> (15 - (4 * (3 - x) + y)) & 1) out = static_cast<std::uint16_t>(out | 1 << (15 - (4 * y + x)));
  return out;
}

// Reads the square as it lies; `corners` run clockwise from any corner.
std::optional<Marker> read_marker(const cv::Mat& grey, const std::array<cv::Point2f, 4>& corners) {
  const float n = kCells;
  const std::array<cv::Point2f, 4> cells{{{0, 0}, {n, 0}, {n, n}, {0, n}}};
  const cv::Matx33d px_from_cell(cv::getPerspectiveTransform(cells.data(), corners.data()));
  std::vector<double> frame;
  double paper = 0;
  for (int i = 0; i < kCells; ++i) {
    const double c = i + 0.5;
    for (const auto& [x, y] : {std::pair{c, 0.5}, {c, kCells - 0.5}, {0.5, c}, {kCells - 0.5, c}})
      frame.push_back(cell_level(grey, px_from_cell, x, y, 0.25));
    for (const auto& [x, y] : {std::pair{c, -0.4}, {c, kCells + 0.4}, {-0.4, c}, {kCells + 0.4, c}})
      paper += cell_level(grey, px_from_cell, x, y, 0.1) / (4 * kCells);
  }
  std::sort(frame.begin(), frame.end());
  const double black = frame[frame.size() / 2];
  if (paper - black < kLeastContrast) return std::nullopt;
  const double middle = (paper + black) / 2;
  if (frame[frame.size() - 2] > middle) return std::nullopt;

  std::uint16_t seen = 0;
  for (int y = 0; y < 4; ++y)
    for (int x = 0; x < 4; ++x)
      if (cell_level(grey, px_from_cell, x + 1.5, y + 1.5, 0.3) > middle) seen = static_cast<std::uint16_t>(seen | 1 << (15 - (4 * y + x)));
  for (std::size_t id = 0; id < kCodes.size(); ++id) {
    std::uint16_t code = kCodes[id];
    for (std::size_t quarter = 0; quarter < 4; ++quarter, code = turned(code)) {
      // The codes differ by four cells at least, so one misread cell is still certain.
      if (std::popcount(static_cast<unsigned>(seen ^ code)) > 1) continue;
      Marker marker{static_cast<int>(id), {}};
      for (std::size_t i = 0; i < 4; ++i) {
        const cv::Point2f& p = corners[(i + quarter) % 4];
        marker.corners_px[i] = {p.x, p.y};
      }
      return marker;
    }
  }
  return std::nullopt;
}

double side_of(const Quad& quad) {
  double sum = 0;
  for (std::size_t i = 0; i < 4; ++i) sum += std::hypot(quad[(i + 1) % 4].x - quad[i].x, quad[(i + 1) % 4].y - quad[i].y);
  return sum / 4;
}

// Moves the corners to the crossings of lines fitted to the four edges; false when an edge is not to be seen.
bool place_corners(const cv::Mat& grey, Quad& corners, double reach_px) {
  std::array<image::Line, 4> sides;
  for (std::size_t i = 0; i < 4; ++i) {
    // Clockwise with y down, the left of each side is outside: paper, brighter than the frame.
    const auto fit = image::fit_edge(grey, corners[i], corners[(i + 1) % 4], reach_px, image::Polarity::bright_left);
    if (!fit) return false;
    sides[i] = fit->line;
  }
  Quad placed{};
  for (std::size_t i = 0; i < 4; ++i) {
    const auto p = image::crossing(sides[(i + 3) % 4], sides[i]);
    if (!p || std::hypot(p->x - corners[i].x, p->y - corners[i].y) > 3 * reach_px) return false;
    placed[i] = *p;
  }
  corners = placed;
  return true;
}

// Four-sided convex outlines among the dark shapes of a thresholded picture, clockwise.
void collect_squares(const cv::Mat& dark, std::vector<std::array<cv::Point2f, 4>>& squares) {
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(dark, contours, cv::RETR_LIST, cv::CHAIN_APPROX_NONE);
  for (const auto& contour : contours) {
    const auto perimeter = static_cast<double>(contour.size());
    if (perimeter < 36 || perimeter > 2.0 * (dark.rows + dark.cols) * 0.8) continue;
    std::vector<cv::Point> polygon;
    cv::approxPolyDP(contour, polygon, 0.035 * perimeter, true);
    if (polygon.size() != 4 || !cv::isContourConvex(polygon)) continue;
    const double area = cv::contourArea(polygon, true);
    if (std::abs(area) < 60) continue;
    if (area < 0) std::reverse(polygon.begin(), polygon.end());
    double shortest = 1e9;
    double longest = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      const double side = cv::norm(polygon[(i + 1) % 4] - polygon[i]);
      shortest = std::min(shortest, side), longest = std::max(longest, side);
    }
    if (longest > 2.5 * shortest) continue;
    std::array<cv::Point2f, 4> square;
    for (std::size_t i = 0; i < 4; ++i) square[i] = cv::Point2f(polygon[i]) + cv::Point2f(0.5F, 0.5F);
    squares.push_back(square);
  }
}

}  // namespace

std::vector<Marker> find_markers(const cv::Mat& grey) {
  std::vector<Marker> markers;
  const double scale = std::min(1.0, kSearchSide_px / std::max(grey.cols, grey.rows));
  cv::Mat small = grey;
  if (scale < 1) cv::resize(grey, small, {}, scale, scale, cv::INTER_AREA);
  const cv::Point2f up(static_cast<float>(grey.cols) / static_cast<float>(small.cols),
                       static_cast<float>(grey.rows) / static_cast<float>(small.rows));
  for (const int window : {19, 61, 151}) {
    cv::Mat dark;
    cv::adaptiveThreshold(small, dark, 255, cv::ADAPTIVE_THRESH_MEAN_C, cv::THRESH_BINARY_INV, window, 8);
    std::vector<std::array<cv::Point2f, 4>> squares;
    collect_squares(dark, squares);
    for (auto& square : squares) {
      for (cv::Point2f& p : square) p = {p.x * up.x, p.y * up.y};
      std::optional<Marker> marker = read_marker(grey, square);
      if (!marker) continue;
      const bool known = std::any_of(markers.begin(), markers.end(), [&](const Marker& m) {
        return m.id == marker->id && std::hypot(m.corners_px[0].x - marker->corners_px[0].x,
                                                m.corners_px[0].y - marker->corners_px[0].y) < 0.5 * side_of(m.corners_px);
      });
      if (known) continue;
      const double side = side_of(marker->corners_px);
      if (place_corners(grey, marker->corners_px, std::max(3.0, 0.1 * side)) &&
          place_corners(grey, marker->corners_px, std::max(2.0, 0.06 * side)))
        markers.push_back(*marker);
    }
  }
  return markers;
}

}  // namespace papillote::calibration
