// Holes through the paper, as feeding insects leave them. The net says where; the diameter is measured on the photograph.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

// Area of the hole in square view pixels: what is nearer to the hole's middle in colour than to the paper around it.
double measured_area(const View& view, const Mark& mark) {
  constexpr double kFiner = 5;
  const int around = std::max(2, cvRound(0.8 * view.unit_px));
  const cv::Rect part = (mark.box + cv::Size(2 * around, 2 * around)) - cv::Point(around, around);
  cv::Mat lab;
  cv::cvtColor(view.picture(part, kFiner), lab, cv::COLOR_BGR2Lab);
  lab.convertTo(lab, CV_32FC3);
  cv::GaussianBlur(lab, lab, {}, 0.8);
  const int rim = cvRound(0.3 * around * kFiner);
  cv::Mat paper(lab.size(), CV_8U, cv::Scalar(255));
  paper(cv::Rect(rim, rim, lab.cols - 2 * rim, lab.rows - 2 * rim)) = 0;
  const cv::Point middle(lab.cols / 2, lab.rows / 2);
  const int core = std::max(1, cvRound(0.2 * std::min(mark.box.width, mark.box.height) * kFiner));
  const cv::Scalar in = cv::mean(lab(cv::Rect(middle.x - core, middle.y - core, 2 * core, 2 * core) & cv::Rect(cv::Point(), lab.size())));
  const cv::Scalar out = cv::mean(lab, paper);
  cv::Mat open = cv::Mat::zeros(lab.size(), CV_8U);
  for (int y = 0; y < lab.rows; ++y)
    for (int x = 0; x < lab.cols; ++x) {
      const cv::Vec3f& here = lab.at<cv::Vec3f>(y, x);
      double to_in = 0, to_out = 0;
      for (int c = 0; c < 3; ++c) {
        to_in += std::pow(here[c] - in[c], 2);
        to_out += std::pow(here[c] - out[c], 2);
      }
      if (to_in < to_out) open.at<std::uint8_t>(y, x) = 255;
    }
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(open, labels, stats, centres, 8);
  const int own = labels.at<int>(middle);
  return own > 0 && own < count ? stats.at<int>(own, cv::CC_STAT_AREA) / (kFiner * kFiner) : 0;
}

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  const std::vector<Mark> marks = marks_of(view, Damage::hole, 0);
  for (const Mark& mark : marks) {
    const cv::Rect near = (mark.box + cv::Size(2, 2)) - cv::Point(1, 1);
    const bool touching = std::ranges::count_if(marks, [&](const Mark& other) { return !(other.box & near).empty(); }) > 1;
    Sign sign = sign_of(mark, 0.56, 0.39);
    double diameter = 2 * mark.radius;
    const double measured = touching ? 0 : 2 * std::sqrt(measured_area(view, mark) / 3.14159) / view.unit_px;
    // Where the photograph shows no clear rim around one hole, the net's own region stands.
    if (measured > 0.5 * diameter && measured < 1.6 * diameter) diameter = measured;
    sign.severity = severity_of(diameter, 1.4, 2.3, 4);
    if (view.px_per_mm) {
      sign.size_mm = diameter;
      sign.words = fmt::format("hole of {:.1f} mm", diameter);
    }
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector hole{"hole", 9, look};

}  // namespace papillote::condition::detectors
