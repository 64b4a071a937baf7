#include "stages/segmentation/background.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace papillote::segmentation {
namespace {

constexpr int kTerms = 6;  // 1, x, y, x^2, xy, y^2
using Terms = cv::Vec<double, kTerms>;

Terms terms_at(double x, double y) { return {1, x, y, x * x, x * y, y * y}; }

struct Surface {
  std::array<Terms, 3> lab{};
  cv::Matx33d whitening = cv::Matx33d::eye();  // of the residuals

  [[nodiscard]] cv::Vec3d at(const Terms& t) const { return {lab[0].dot(t), lab[1].dot(t), lab[2].dot(t)}; }
};

struct Sample {
  Terms terms;
  cv::Vec3d lab;
  bool at_rim = false;
};

// Least spread that is believed, at a smoothing of 1 px: compression and noise make at least this much.
constexpr double kLeastSpreadL = 0.8;
constexpr double kLeastSpreadAB = 0.6;

Surface fit(const std::vector<Sample>& samples, const std::vector<bool>& used, int terms, double believed) {
  cv::Mat normal = cv::Mat::zeros(terms, terms, CV_64F);
  cv::Mat right = cv::Mat::zeros(terms, 3, CV_64F);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    if (!used[i]) continue;
    for (int r = 0; r < terms; ++r) {
      for (int c = 0; c < terms; ++c) normal.at<double>(r, c) += samples[i].terms[r] * samples[i].terms[c];
      for (int c = 0; c < 3; ++c) right.at<double>(r, c) += samples[i].terms[r] * samples[i].lab[c];
    }
  }
  normal += cv::Mat::eye(terms, terms, CV_64F) * 1e-6;
  cv::Mat solution;
  cv::solve(normal, right, solution, cv::DECOMP_CHOLESKY);
  Surface surface;
  for (int c = 0; c < 3; ++c)
    for (int r = 0; r < terms; ++r) surface.lab[static_cast<std::size_t>(c)][r] = solution.at<double>(r, c);
  cv::Matx33d spread = cv::Matx33d::zeros();
  double count = 0;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    if (!used[i]) continue;
    const cv::Vec3d d = samples[i].lab - surface.at(samples[i].terms);
    spread += d * d.t();
    ++count;
  }
  spread *= 1 / std::max(count, 1.0);
  const double l = believed * kLeastSpreadL;
  const double ab = believed * kLeastSpreadAB;
  spread += cv::Matx33d::diag({l * l, ab * ab, ab * ab});
  surface.whitening = spread.inv(cv::DECOMP_CHOLESKY);
  return surface;
}

double squared(const cv::Vec3d& d, const cv::Matx33d& whitening) { return d.dot(whitening * d); }

// The commonest colour of the rim: the sample with the most others near it.
cv::Vec3d commonest(const std::vector<Sample>& samples) {
  std::vector<cv::Vec3d> rim;
  for (const Sample& s : samples)
    if (s.at_rim) rim.push_back(s.lab);
  if (rim.empty())
    for (const Sample& s : samples) rim.push_back(s.lab);
  const std::size_t step = std::max<std::size_t>(1, rim.size() / 400);
  std::size_t most = 0;
  cv::Vec3d best = rim.front();
  for (std::size_t i = 0; i < rim.size(); i += step) {
    std::size_t near = 0;
    for (std::size_t j = 0; j < rim.size(); j += step) {
      const cv::Vec3d d = rim[i] - rim[j];
      near += d[0] * d[0] / 4 + d[1] * d[1] + d[2] * d[2] < 36;
    }
    if (near > most) most = near, best = rim[i];
  }
  return best;
}

}  // namespace

Difference difference_from_table(const cv::Mat& bgr, const cv::Mat& ignore, double smooth_px) {
  cv::Mat small;
  bgr.convertTo(small, CV_32F, 1 / 255.0);
  cv::GaussianBlur(small, small, {}, smooth_px);
  cv::Mat lab;
  cv::cvtColor(small, lab, cv::COLOR_BGR2Lab);

  const double believed = 1 / std::max(1.0, std::sqrt(smooth_px));
  const auto unit = [](int i, int n) { return 2.0 * i / std::max(n - 1, 1) - 1; };
  std::vector<Sample> samples;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(lab.total()) / 30000.0)));
  const int rim = std::max(2, std::min(lab.rows, lab.cols) / 25);
  for (int y = 0; y < lab.rows; y += stride)
    for (int x = 0; x < lab.cols; x += stride) {
      if (ignore.at<uchar>(y, x)) continue;
      const bool at_rim = x < rim || y < rim || x >= lab.cols - rim || y >= lab.rows - rim;
      samples.push_back({terms_at(unit(x, lab.cols), unit(y, lab.rows)), lab.at<cv::Vec3f>(y, x), at_rim});
    }
  Difference difference{cv::Mat::zeros(lab.size(), CV_32F), cv::Mat::zeros(lab.size(), CV_32F), cv::Mat::zeros(lab.size(), CV_32FC3)};
  if (samples.size() < 50) return difference;

  // From the commonest colour of the rim outwards: take in what is near, fit, widen to the whole picture, fit again.
  const cv::Vec3d first = commonest(samples);
  std::vector<bool> used(samples.size());
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const cv::Vec3d d = samples[i].lab - first;
    used[i] = d[0] * d[0] / 4 + d[1] * d[1] + d[2] * d[2] < 64;
  }
  Surface table = fit(samples, used, 1, believed);
  for (const int terms : {3, 3, 6, 6, 6, 6}) {
    const double within = terms == 3 ? 12 : 9;
    for (std::size_t i = 0; i < samples.size(); ++i)
      used[i] = squared(samples[i].lab - table.at(samples[i].terms), table.whitening) < within;
    if (static_cast<std::size_t>(std::count(used.begin(), used.end(), true)) < samples.size() / 50) break;
    table = fit(samples, used, terms, believed);
  }

  for (int y = 0; y < lab.rows; ++y) {
    auto* any = difference.any.ptr<float>(y);
    auto* no_shadow = difference.no_shadow.ptr<float>(y);
    for (int x = 0; x < lab.cols; ++x) {
      const cv::Vec3d here = lab.at<cv::Vec3f>(y, x);
      const cv::Vec3d there = table.at(terms_at(unit(x, lab.cols), unit(y, lab.rows)));
      const cv::Vec3d d = here - there;
      difference.lab.at<cv::Vec3f>(y, x) = d;
      any[x] = static_cast<float>(std::sqrt(squared(d, table.whitening)));
      no_shadow[x] = any[x];
      // Less of the same light: in L*a*b* all three shrink alike about L* = -16.
      const double share = (here[0] + 16) / (there[0] + 16);
      if (d[0] < 0 && share > 0.6) {
        const cv::Vec3d shaded(here[0], there[1] * share, there[2] * share);
        no_shadow[x] = static_cast<float>(std::sqrt(squared(here - shaded, table.whitening)));
      }
    }
  }
  return difference;
}

}  // namespace papillote::segmentation
