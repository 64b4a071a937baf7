#include "stages/segmentation/edges.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace papillote::segmentation {

EdgeMap::EdgeMap(const cv::Mat& bgr) {
  cv::Mat smooth;
  cv::GaussianBlur(bgr, smooth, {}, 1.2);
  std::array<cv::Mat, 3> channels;
  cv::split(smooth, channels.data());
  cv::Mat dx = cv::Mat::zeros(bgr.size(), CV_16S);
  cv::Mat dy = cv::Mat::zeros(bgr.size(), CV_16S);
  cv::Mat steep = cv::Mat::zeros(bgr.size(), CV_16S);
  for (const cv::Mat& channel : channels) {
    cv::Mat x;
    cv::Mat y;
    cv::Sobel(channel, x, CV_16S, 1, 0);
    cv::Sobel(channel, y, CV_16S, 0, 1);
    const cv::Mat size = cv::abs(x) + cv::abs(y);
    const cv::Mat more = size > steep;
    x.copyTo(dx, more), y.copyTo(dy, more), size.copyTo(steep, more);
  }
  // The grain: the median of all slopes, since most of a picture is no edge.
  std::array<int, 1024> histogram{};
  for (int y = 0; y < steep.rows; y += 2)
    for (int x = 0; x < steep.cols; x += 2) ++histogram[static_cast<std::size_t>(std::min<int>(steep.at<short>(y, x), 1023))];
  int grain = 0;
  for (int seen = 0, half = static_cast<int>(steep.total() / 8); grain < 1023 && (seen += histogram[static_cast<std::size_t>(grain)]) < half;)
    ++grain;
  const int least = std::max(9, 5 * grain / 2);

  for (cv::Mat& m : thin_) m = cv::Mat::zeros(bgr.size(), CV_8U);
  for (int y = 1; y + 1 < steep.rows; ++y)
    for (int x = 1; x + 1 < steep.cols; ++x) {
      const int here = steep.at<short>(y, x);
      if (here < least) continue;
      const double gx = dx.at<short>(y, x);
      const double gy = dy.at<short>(y, x);
      const double n = std::hypot(gx, gy);
      const int sx = cvRound(gx / n);
      const int sy = cvRound(gy / n);
      if (here < steep.at<short>(y + sy, x + sx) || here <= steep.at<short>(y - sy, x - sx)) continue;  // not the crest
      // The edge runs across the slope.
      const double turn = std::fmod(std::atan2(gx, -gy) + 2 * CV_PI, CV_PI) / CV_PI * kDirections;
      thin_[static_cast<std::size_t>(static_cast<int>(turn) % kDirections)].at<uchar>(y, x) = 255;
    }
  // An edge counts in its own direction and in the two beside it.
  for (std::size_t i = 0; i < kDirections; ++i)
    cv::dilate(thin_[i] | thin_[(i + 1) % kDirections] | thin_[(i + kDirections - 1) % kDirections], near_[i],
               cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
}

bool EdgeMap::runs(const cv::Point2d& p, const cv::Point2d& direction) const {
  const cv::Point at(cvFloor(p.x), cvFloor(p.y));
  if (!cv::Rect(cv::Point(), near_[0].size()).contains(at)) return false;
  const double turn = std::fmod(std::atan2(direction.y, direction.x) + 2 * CV_PI, CV_PI) / CV_PI * kDirections;
  return near_[static_cast<std::size_t>(static_cast<int>(turn) % kDirections)].at<uchar>(at) != 0;
}

cv::Mat EdgeMap::any() const {
  cv::Mat all = near_[0].clone();
  for (const cv::Mat& m : near_) all |= m;
  return all;
}

std::pair<int, int> EdgeMap::along(const cv::Point2d& a, const cv::Point2d& b) const {
  const cv::Point2d side = b - a;
  const double length = cv::norm(side);
  int seen = 0;
  int all = 0;
  for (double t = 1; t < length; t += 2, ++all) seen += runs(a + side * (t / length), side / length);
  return {seen, all};
}

double EdgeMap::support(const Shape& shape) const {
  int seen = 0;
  int all = 0;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const auto [on_edge, of] = along(shape[i], shape[(i + 1) % shape.size()]);
    seen += on_edge, all += of;
  }
  return all ? static_cast<double>(seen) / all : 0;
}

double EdgeMap::weakest_side(const Shape& shape) const {
  double least = 1;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const auto [on_edge, of] = along(shape[i], shape[(i + 1) % shape.size()]);
    least = std::min(least, of ? static_cast<double>(on_edge) / of : 1.0);
  }
  return least;
}

double EdgeMap::running_on(const Shape& shape) const {
  int seen = 0;
  int all = 0;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const cv::Point2d& a = shape[i];
    const cv::Point2d& b = shape[(i + 1) % shape.size()];
    const cv::Point2d side = b - a;
    constexpr double kFrom = 0.04;  // of the side: a corner is never exact
    constexpr double kTo = 0.3;
    for (const auto& [on_edge, of] : {along(b + side * kFrom, b + side * kTo), along(a - side * kFrom, a - side * kTo)})
      seen += on_edge, all += of;
  }
  return all ? static_cast<double>(seen) / all : 0;
}

Shape EdgeMap::settled(const Shape& shape, double outward_px, double inward_px) const {
  std::vector<double> moves;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const cv::Point2d& a = shape[i];
    const cv::Point2d& b = shape[(i + 1) % shape.size()];
    const cv::Point2d side = (b - a) / std::max(cv::norm(b - a), 1e-9);
    const cv::Point2d out(side.y, -side.x);
    double best = 0;
    double move = 0;
    for (double m = outward_px; m >= -inward_px; m -= 1) {
      const auto [on_edge, of] = along(a + out * m, b + out * m);
      // The table's grain and a shadow's rim make weak edges outside; a clearly better one is the paper's.
      if (const double share = of ? static_cast<double>(on_edge) / of : 0; share > best + 0.05) best = share, move = m;
    }
    moves.push_back(move);
  }
  return with_sides_moved(shape, moves);
}

std::vector<Segment> EdgeMap::straight(double least_px) const {
  constexpr double kGap_px = 6;
  std::vector<Segment> segments;
  for (std::size_t i = 0; i < kDirections; ++i) {
    // Each edge is looked at twice, with those of the direction on either side of its own.
    std::vector<cv::Vec4i> found;
    cv::HoughLinesP(thin_[i] | thin_[(i + 1) % kDirections], found, 1, CV_PI / 180, static_cast<int>(0.45 * least_px), least_px, kGap_px);
    for (const cv::Vec4i& s : found) segments.push_back({{s[0] + 0.5, s[1] + 0.5}, {s[2] + 0.5, s[3] + 0.5}});
  }
  return segments;
}

std::vector<Segment> clear_straight_edges(const cv::Mat& bgr, double least_px) {
  std::array<cv::Mat, 3> channels;
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  // Blue against red shows what brightness does not: cream paper on grey, kraft on wood.
  cv::split(bgr, channels.data());
  cv::Mat colour;
  cv::addWeighted(channels[2], 1, channels[0], -1, 128, colour);
  std::vector<Segment> segments;
  const cv::Ptr<cv::LineSegmentDetector> detector = cv::createLineSegmentDetector(cv::LSD_REFINE_NONE);
  for (const cv::Mat& view : {grey, colour}) {
    std::vector<cv::Vec4f> found;
    detector->detect(view, found);
    for (const cv::Vec4f& s : found) {
      const Segment segment{{s[0] + 0.5, s[1] + 0.5}, {s[2] + 0.5, s[3] + 0.5}};
      if (cv::norm(segment.b - segment.a) >= least_px) segments.push_back(segment);
    }
  }
  return segments;
}

}  // namespace papillote::segmentation
