#include "table.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "colour.h"
#include "drawing.h"
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
  cv::Mat colour = lay_table(random.pick({Table::wood, Table::grey_card, Table::baize}), size, px_per_mm, random);
  const int wall = cvRound(7 * px_per_mm);
  const int round = cvRound(9 * px_per_mm);
  const cv::Rect outside(inside.x - wall, inside.y - wall, inside.width + 2 * wall, inside.height + 2 * wall);
  const auto rounded = [&](cv::Rect r, int radius) {
    cv::Mat mask(size, CV_8U, cv::Scalar(0));
    cv::rectangle(mask, {r.x + radius, r.y, r.width - 2 * radius, r.height}, cv::Scalar(255), cv::FILLED);
    cv::rectangle(mask, {r.x, r.y + radius, r.width, r.height - 2 * radius}, cv::Scalar(255), cv::FILLED);
    for (const cv::Point& c : {cv::Point{r.x + radius, r.y + radius}, {r.br().x - radius, r.y + radius}, {r.x + radius, r.br().y - radius},
                               {r.br().x - radius, r.br().y - radius}})
      cv::circle(mask, c, radius, cv::Scalar(255), cv::FILLED, cv::LINE_AA);
    return mask;
  };
  // The shadow of the tin on the table.
  const cv::Mat tin = rounded(outside, round + wall);
  cv::Mat shadow;
  tin.convertTo(shadow, CV_32F, 1 / 255.0);
  const cv::Matx23d away(1, 0, 4 * px_per_mm, 0, 1, 6 * px_per_mm);
  cv::warpAffine(shadow, shadow, away, size);
  soften(shadow, 6 * px_per_mm);
  modulate(colour, shadow, -0.6);
  // Worn metal; each wall catches the lamp in its own way.
  cv::Mat metal = even(size, random.pick({0x8E8C84U, 0x7A776CU, 0x9A9484U, 0x6C7068U}));
  modulate(metal, streaky_noise(size, 30 * px_per_mm, 0.5 * px_per_mm, random), 0.05);
  modulate(metal, noise(size, 8 * px_per_mm, random), 0.12);
  cv::Mat lit(size, CV_32F);
  const cv::Vec4f walls(static_cast<float>(random.between(-0.5, 0.5)), static_cast<float>(random.between(-0.5, 0.5)),
                        static_cast<float>(random.between(-0.5, 0.5)), static_cast<float>(random.between(-0.5, 0.5)));
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      const int left = x - outside.x;
      const int right = outside.br().x - x;
      const int top = y - outside.y;
      const int bottom = outside.br().y - y;
      const int least = std::min({left, right, top, bottom});
      lit.at<float>(y, x) = least == left ? walls[0] : least == right ? walls[1] : least == top ? walls[2] : walls[3];
    }
  soften(lit, 1.2 * px_per_mm);
  modulate(metal, lit, 1.0);
  metal.copyTo(colour, tin);
  cv::Mat rim = cv::Mat::zeros(size, CV_8U);
  std::vector<std::vector<cv::Point>> edge;
  cv::findContours(tin, edge, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  cv::drawContours(rim, edge, -1, cv::Scalar(255), std::max(2, cvRound(1.1 * px_per_mm)), cv::LINE_AA);
  cv::Mat bright;
  rim.convertTo(bright, CV_32F, 1 / 255.0);
  soften(bright, 0.3 * px_per_mm);
  cv::Mat patchy = noise(size, 14 * px_per_mm, random) * 0.35 + 0.55;
  modulate(colour, bright.mul(cv::max(patchy, 0.05)), 1.3);

  const cv::Mat bottom = rounded(inside, round);
  cv::Mat lining = even(size, random.pick({0xB8A684U, 0x9A8A6AU, 0xC4B898U, 0xD8D2C0U, 0x8A8478U}));
  modulate(lining, noise(size, 1.5, random), 0.03);
  modulate(lining, noise(size, 18 * px_per_mm, random), 0.04);
  lining.copyTo(colour, bottom);
  // The walls keep the light off the bottom.
  cv::Mat depth;
  cv::distanceTransform(bottom, depth, cv::DIST_L2, 3);
  cv::Mat shade(size, CV_32F, cv::Scalar(0));
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      if (bottom.at<uchar>(y, x) > 127) shade.at<float>(y, x) = -0.5F * std::exp(-depth.at<float>(y, x) / static_cast<float>(12 * px_per_mm));
  modulate(colour, shade, 1.0);
  return colour;
}

}  // namespace papillote::samples
