#include "stages/calibration/edge_profile.h"

#include <algorithm>
#include <cmath>

#include "stages/calibration/linear_light.h"

namespace papillote::calibration {

EdgeProfile edge_profile(const cv::Mat& grey, const image::Line& line, const Point& a, const Point& b, double reach_px) {
  const cv::Point2d normal(line.along.y, -line.along.x);
  const double from = (cv::Point2d(a.x, a.y) - line.at).dot(line.along);
  const double to = (cv::Point2d(b.x, b.y) - line.at).dot(line.along);
  const cv::Point2d centre = line.at + line.along * ((from + to) / 2);
  const double half = std::abs(to - from) * 0.35;
  const auto bins = static_cast<std::size_t>(2 * reach_px / kProfileBin_px);
  EdgeProfile profile{std::vector<double>(bins), std::vector<double>(bins)};
  const double extent = half + reach_px;
  const cv::Rect box = cv::Rect(cv::Point(cvFloor(centre.x - extent), cvFloor(centre.y - extent)),
                                cv::Point(cvCeil(centre.x + extent), cvCeil(centre.y + extent))) &
                       cv::Rect(cv::Point(), grey.size());
  for (int y = box.y; y < box.y + box.height; ++y)
    for (int x = box.x; x < box.x + box.width; ++x) {
      const cv::Point2d d = cv::Point2d(x + 0.5, y + 0.5) - centre;
      const double across = d.dot(normal);
      if (std::abs(d.dot(line.along)) > half || std::abs(across) >= reach_px) continue;
      const auto bin = std::min(bins - 1, static_cast<std::size_t>((across + reach_px) / kProfileBin_px));
      profile.sum[bin] += linear_levels()[grey.at<uchar>(y, x)];
      ++profile.count[bin];
    }
  return profile;
}

}  // namespace papillote::calibration
