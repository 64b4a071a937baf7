#include "stages/registration/portrait.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>

#include "pipeline/record/rank.h"

namespace papillote::registration {
namespace {

constexpr int kFine = 4;           // pixels a cell, before they are averaged
constexpr double kAround = 5;      // cells; spread of the window that gives the paper around
constexpr double kFullMark = 0.3;  // of the light's logarithm, for the eight steps to either side

cv::Mat paper_of(const EnvelopeOutline& envelope, cv::Size frame) {
  const cv::Matx33d frame_from_crop =
      cv::Matx33d::diag({double(frame.width) / envelope.crop.width_px, double(frame.height) / envelope.crop.height_px, 1.0});
  return image::inside_of(image::carried(envelope.polygon_px, frame_from_crop * image::crop_from_photo(envelope.crop)), {{}, frame});
}

double median_of(const cv::Mat& channel, const cv::Mat& mask) {
  std::vector<std::uint8_t> values;
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (mask.at<std::uint8_t>(y, x) != 0) values.push_back(channel.at<std::uint8_t>(y, x));
  if (values.empty()) return 0;
  return median(std::move(values));
}

// The usual values of the three channels, balanced, as one colour.
std::array<double, 3> colour_of(const cv::Mat& bgr, const cv::Mat& mask, const Calibration& calibration) {
  cv::Mat channels[3];
  cv::split(bgr, channels);
  cv::Mat pixel(1, 1, CV_32FC3);
  for (int c = 0; c < 3; ++c) {
    // Gains are of linear light.
    const double linear =
        std::pow(median_of(channels[c], mask) / 255, 2.2) * calibration.gain_rgb[static_cast<std::size_t>(2 - c)];
    pixel.at<cv::Vec3f>(0, 0)[c] = static_cast<float>(std::pow(std::clamp(linear, 0.0, 1.0), 1 / 2.2));
  }
  cv::cvtColor(pixel, pixel, cv::COLOR_BGR2Lab);
  const cv::Vec3f lab = pixel.at<cv::Vec3f>(0, 0);
  return {lab[0], lab[1], lab[2]};
}

}  // namespace

Result<Portrait> portray(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo) {
  Portrait portrait;
  const Crop& crop = envelope.crop;
  if (crop.width_px < kPortraitCells / 2 || crop.height_px < kPortraitCells / 8 || envelope.polygon_px.size() < 3)
    return portrait;
  const double scale = double(kPortraitCells) / std::max(crop.width_px, crop.height_px);
  const cv::Size cells(std::max(1, cvRound(crop.width_px * scale)), std::max(1, cvRound(crop.height_px * scale)));
  const cv::Size fine(cells.width * kFine, cells.height * kFine);
  const cv::Mat picture = image::rectify(photo, crop.quad_px, fine);
  const cv::Mat paper = paper_of(envelope, fine);
  const double filled = cv::countNonZero(paper);
  if (filled == 0) return portrait;

  cv::Mat grey, light, weight;
  cv::cvtColor(picture, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(light, CV_32F, 1.0 / 255, 0.02);
  cv::log(light, light);
  // A rim of the paper is left out: the outline wanders by a pixel, and beyond it lies the table.
  cv::Mat inner;
  cv::erode(paper, inner, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * kFine + 1, 2 * kFine + 1}), {-1, -1}, 1,
            cv::BORDER_CONSTANT, cv::Scalar(0));
  inner.convertTo(weight, CV_32F, 1.0 / 255);
  // What is so smooth needs no fine pixels.
  const auto blurred = [&](const cv::Mat& values) {
    cv::Mat coarse, smooth;
    cv::resize(values, coarse, cells, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(coarse, coarse, {}, kAround, 0, cv::BORDER_CONSTANT);
    cv::resize(coarse, smooth, fine, 0, 0, cv::INTER_LINEAR);
    return smooth;
  };
  const cv::Mat around = blurred(light.mul(weight)), near = blurred(weight);
  const cv::Mat differing = (light - around / (near + 1e-6)).mul(weight);
  cv::Mat marks;
  cv::resize(differing, marks, cells, 0, 0, cv::INTER_AREA);

  portrait.width = cells.width;
  portrait.height = cells.height;
  portrait.marks.reserve(static_cast<std::size_t>(cells.area()));
  for (int y = 0; y < marks.rows; ++y)
    for (int x = 0; x < marks.cols; ++x)
      portrait.marks += "0123456789abcdef"[std::clamp(cvRound(8 + 8 * double(marks.at<float>(y, x)) / kFullMark), 0, 15)];
  portrait.paper = colour_of(picture, inner, calibration);
  portrait.filled = filled / fine.area();
  return portrait;
}

}  // namespace papillote::registration
