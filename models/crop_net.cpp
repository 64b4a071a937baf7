#include "models/crop_net.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <opencv2/imgproc.hpp>

#include "models/library.h"

namespace papillote::models {
namespace {

constexpr double kPxPerMm = 5;          // of the picture the net sees
constexpr double kUsualSide_mm = 75;    // longer side of an envelope without a scale
constexpr int kLongestPx = 960;
constexpr int kShortestPx = 12;
constexpr int kStep = 32;               // the picture's sides are multiples of this

double distance(const Point& a, const Point& b) { return std::hypot(a.x - b.x, a.y - b.y); }

// Pixels of the photograph in a millimetre at this envelope.
double scale_at(const EnvelopeOutline& envelope, const Calibration& calibration) {
  const Quad& q = envelope.crop.quad_px;
  const double width = distance(q[0], q[1]);
  if (envelope.size_mm && envelope.size_mm->x > 0) return width / envelope.size_mm->x;
  if (calibration.px_per_mm && *calibration.px_per_mm > 0) return *calibration.px_per_mm;
  return std::max(width, distance(q[0], q[3])) / kUsualSide_mm;
}

// The crop with `margin_px` of the photograph more on every side.
Quad widened(const Quad& q, double margin_px) {
  const auto grown = [&](const Point& corner, const Point& beside, const Point& below) {
    const double wide = std::max(1.0, distance(corner, beside)), high = std::max(1.0, distance(corner, below));
    return Point{corner.x + (corner.x - beside.x) / wide * margin_px + (corner.x - below.x) / high * margin_px,
                 corner.y + (corner.y - beside.y) / wide * margin_px + (corner.y - below.y) / high * margin_px};
  };
  return {grown(q[0], q[1], q[3]), grown(q[1], q[0], q[2]), grown(q[2], q[3], q[1]), grown(q[3], q[2], q[0])};
}

int padded(int side) { return (side + kStep - 1) / kStep * kStep; }

Tensor tensor_of(const cv::Mat& bgr, const cv::Mat& paper) {
  const int rows = padded(bgr.rows), cols = padded(bgr.cols);
  Tensor input{{1, 4, rows, cols}, std::vector<float>(4 * static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols))};
  cv::Mat whole;
  cv::copyMakeBorder(bgr, whole, 0, rows - bgr.rows, 0, cols - bgr.cols, cv::BORDER_REPLICATE);
  cv::Mat outline;
  cv::copyMakeBorder(paper, outline, 0, rows - bgr.rows, 0, cols - bgr.cols, cv::BORDER_CONSTANT, cv::Scalar(0));
  std::vector<cv::Mat> planes(3);
  cv::split(whole, planes);
  planes.push_back(outline);
  for (int c = 0; c < 4; ++c) {
    cv::Mat plane(rows, cols, CV_32F, input.values.data() + static_cast<std::ptrdiff_t>(c) * rows * cols);
    planes[static_cast<std::size_t>(c)].convertTo(plane, CV_32F, c < 3 ? 1 / 127.5 : 1 / 255.0, c < 3 ? -1 : 0);
  }
  return input;
}

// Of even width, so that the pixels of maps of half the size are those of the picture as it is.
cv::Mat mirrored(const cv::Mat& whole, int border) {
  cv::Mat out;
  cv::copyMakeBorder(whole, out, 0, 0, 0, whole.cols % 2, border);
  cv::flip(out, out, 1);
  return out;
}

}  // namespace

Result<CropNet> CropNet::open(const std::string& models_dir, const std::string& name) {
  auto model = open_model(models_dir, name);
  if (!model) return model.failure();
  return CropNet(std::move(model).value());
}

// What the net says of a picture, at half its size.
Result<std::vector<cv::Mat>> CropNet::maps_of(const cv::Mat& bgr, const cv::Mat& paper) const {
  auto output = model_.run(tensor_of(bgr, paper));
  if (!output) return output.failure();
  const Tensor& said = *output;
  const int channels = static_cast<int>(said.shape[1]), rows = static_cast<int>(said.shape[2]), cols = static_cast<int>(said.shape[3]);
  const cv::Rect part(0, 0, std::min(cols, (bgr.cols + 1) / 2), std::min(rows, (bgr.rows + 1) / 2));
  std::vector<cv::Mat> maps;
  for (int c = 0; c < channels; ++c) {
    const cv::Mat all(rows, cols, CV_32F, const_cast<float*>(said.values.data()) + static_cast<std::ptrdiff_t>(c) * rows * cols);
    maps.push_back(all(part).clone());
  }
  return maps;
}

Result<CropMarks> CropNet::look(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo, double margin_mm,
                                WorthMirroring worth_mirroring) const {
  const double source_px_per_mm = scale_at(envelope, calibration);
  Crop crop;
  crop.quad_px = widened(envelope.crop.quad_px, margin_mm * source_px_per_mm);
  const double width = distance(crop.quad_px[0], crop.quad_px[1]), height = distance(crop.quad_px[0], crop.quad_px[3]);
  const double scale = std::min(kPxPerMm / source_px_per_mm, kLongestPx / std::max({width, height, 1.0}));
  crop.width_px = cvRound(width * scale);
  crop.height_px = cvRound(height * scale);
  CropMarks marks;
  if (std::min(crop.width_px, crop.height_px) < kShortestPx) return marks;

  const cv::Matx33d picture_from_photo = image::crop_from_photo(crop);
  const cv::Mat bgr = image::rectify(photo, crop);
  cv::Mat paper = cv::Mat::zeros(bgr.size(), CV_8U);
  std::vector<cv::Point> outline;
  for (const Point& p : image::carried(envelope.polygon_px, picture_from_photo)) outline.emplace_back(cvRound(p.x - 0.5), cvRound(p.y - 0.5));
  cv::fillPoly(paper, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar(255));

  auto maps = maps_of(bgr, paper);
  if (!maps) return maps.failure();
  marks.maps = std::move(maps).value();
  if (worth_mirroring != nullptr && worth_mirroring(marks.maps)) {
    auto seconds = maps_of(mirrored(bgr, cv::BORDER_REPLICATE), mirrored(paper, cv::BORDER_CONSTANT));
    if (!seconds) return seconds.failure();
    for (std::size_t c = 0; c < marks.maps.size(); ++c) {
      cv::Mat& second = (*seconds)[c];
      cv::flip(second, second, 1);
      marks.maps[c] = 0.5 * (marks.maps[c] + second);
    }
  }
  cv::resize(paper, marks.paper, marks.maps.front().size(), 0, 0, cv::INTER_NEAREST);
  marks.px_per_mm = source_px_per_mm * scale / 2;
  marks.photo_from_map = picture_from_photo.inv() * cv::Matx33d::diag({2, 2, 1});
  return marks;
}

}  // namespace papillote::models
