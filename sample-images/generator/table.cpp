#include "table.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "noise.h"

namespace papillote::samples {
namespace {

void modulate(cv::Mat& colour, const cv::Mat& field, double strength) {
  for (int y = 0; y < colour.rows; ++y) {
    cv::Vec3f* p = colour.ptr<cv::Vec3f>(y);
    const float* f = field.ptr<float>(y);
    for (int x = 0; x < colour.cols; ++x) p[x] *= std::max(0.05F, 1.0F + static_cast<float>(strength) * f[x]);
  }
}

cv::Mat even(cv::Size size, unsigned rgb) {
  const cv::Vec3f c = reflectance(rgb);
  return cv::Mat(size, CV_32FC3, cv::Scalar(c[0], c[1], c[2]));
}

}  // namespace

cv::Mat lay_table(Table table, cv::Size size, double px_per_mm, Random& random) {
  cv::Mat colour;
  switch (table) {
    case Table::grey_card:
      colour = even(size, random.pick({0x8C8C8CU, 0x7A7A7AU, 0x6E7072U, 0x9C9C9AU}));
      modulate(colour, noise(size, 1.2, random), 0.03);
      modulate(colour, noise(size, 30 * px_per_mm, random), 0.015);
      break;
    case Table::baize:
      colour = even(size, random.pick({0x2E5A40U, 0x27503CU, 0x3A6A4AU, 0x24465AU}));
      modulate(colour, noise(size, 1.0, random), 0.12);
      modulate(colour, noise(size, 0.7 * px_per_mm, random), 0.1);
      modulate(colour, noise(size, 25 * px_per_mm, random), 0.05);
      break;
    case Table::white_paper:
      colour = even(size, random.pick({0xE9E8E4U, 0xE2E1DCU, 0xF0EFEBU}));
      modulate(colour, noise(size, 1.5, random), 0.012);
      modulate(colour, noise(size, 20 * px_per_mm, random), 0.012);
      break;
    case Table::buff_card:
      colour = even(size, random.pick({0xCDB88CU, 0xD8C8A0U, 0xC0A878U}));
      modulate(colour, noise(size, 1.5, random), 0.02);
      modulate(colour, noise(size, 2 * px_per_mm, random), 0.015);
      break;
    case Table::wood: {
      colour = even(size, random.pick({0x8A6238U, 0x6E4A2AU, 0xA87C4CU, 0x5A3C24U}));
      modulate(colour, streaky_noise(size, 60 * px_per_mm, 0.5 * px_per_mm, random), 0.1);
      modulate(colour, streaky_noise(size, 110 * px_per_mm, 4 * px_per_mm, random), 0.12);
      modulate(colour, noise(size, 1.0, random), 0.03);
      for (int i = random.whole(1, 3); i > 0; --i) {  // joints between boards
        const int y = random.whole(0, size.height - 1);
        cv::line(colour, {0, y}, {size.width, y + random.whole(-4, 4)}, cv::Scalar::all(0.012), std::max(1, cvRound(0.3 * px_per_mm)), cv::LINE_AA);
      }
      break;
    }
    case Table::velvet:
      colour = even(size, random.pick({0x1C1B1DU, 0x222022U, 0x1A1A22U}));
      modulate(colour, noise(size, 1.0, random), 0.16);
      modulate(colour, noise(size, 12 * px_per_mm, random), 0.14);
      break;
  }
  return colour;
}

cv::Mat lay_tin(cv::Size size, double px_per_mm, cv::Rect inside, Random& random) {
  cv::Mat colour = lay_table(Table::wood, size, px_per_mm, random);
  const int wall = cvRound(7 * px_per_mm);
  const cv::Rect outside = cv::Rect(inside.x - wall, inside.y - wall, inside.width + 2 * wall, inside.height + 2 * wall) & cv::Rect({0, 0}, size);
  cv::Mat metal = even(outside.size(), 0x8E8C84);
  modulate(metal, streaky_noise(outside.size(), 30 * px_per_mm, 0.4 * px_per_mm, random), 0.08);
  modulate(metal, noise(outside.size(), 8 * px_per_mm, random), 0.1);
  metal.copyTo(colour(outside));
  cv::rectangle(colour, outside, cv::Scalar::all(0.55), std::max(1, cvRound(0.7 * px_per_mm)), cv::LINE_AA);
  cv::Mat lining = even(inside.size(), random.pick({0xB8A684U, 0x9A8A6AU, 0xC4B898U}));
  modulate(lining, noise(inside.size(), 1.5, random), 0.03);
  modulate(lining, noise(inside.size(), 10 * px_per_mm, random), 0.06);
  lining.copyTo(colour(inside));
  // The walls keep the light off the bottom.
  cv::Mat shade(size, CV_32F, cv::Scalar(1));
  cv::Mat opening = cv::Mat::zeros(size, CV_8U);
  opening(inside).setTo(255);
  cv::Mat depth;
  cv::distanceTransform(opening, depth, cv::DIST_L2, 3);
  for (int y = inside.y; y < inside.br().y; ++y)
    for (int x = inside.x; x < inside.br().x; ++x)
      shade.at<float>(y, x) = 0.55F + 0.45F * (1 - std::exp(-depth.at<float>(y, x) / static_cast<float>(14 * px_per_mm)));
  modulate(colour, shade - 1.0, 1.0);
  return colour;
}

}  // namespace papillote::samples
