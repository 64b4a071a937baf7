// Drawn envelopes photographed twice: another turn, place, scale, lamp and noise. What is drawn is known, so which two are one
// is too.
#include "stages/registration/portrait.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>

#include "stages/registration/refinding.h"

namespace papillote::registration {
namespace {

constexpr int kWidth = 640, kHeight = 430;  // of the envelope, pixels

cv::Mat envelope(const std::string& first, const std::string& second, cv::Point stain) {
  cv::Mat paper(kHeight, kWidth, CV_8UC3, cv::Scalar(190, 215, 225));
  cv::circle(paper, stain, 45, cv::Scalar(150, 185, 205), -1, cv::LINE_AA);
  cv::putText(paper, first, {50, 150}, cv::FONT_HERSHEY_SCRIPT_COMPLEX, 2.2, cv::Scalar(50, 40, 40), 4, cv::LINE_AA);
  cv::putText(paper, second, {90, 300}, cv::FONT_HERSHEY_SCRIPT_COMPLEX, 2.2, cv::Scalar(50, 40, 40), 4, cv::LINE_AA);
  return paper;
}

struct Lit {
  double turned_deg, scale, brightness, slope;  // slope: of the light from left to right
};

Seen photographed(const cv::Mat& paper, const Lit& lit, unsigned seed) {
  const cv::Size size(1500, 1400);
  cv::Matx23d laid = cv::getRotationMatrix2D(cv::Point2f(kWidth / 2.0F, kHeight / 2.0F), lit.turned_deg, lit.scale);
  laid(0, 2) += size.width / 2.0 - paper.cols / 2.0;
  laid(1, 2) += size.height / 2.0 - paper.rows / 2.0;
  image::Image photo{cv::Mat(size, CV_8UC3, cv::Scalar(90, 95, 90))};
  cv::warpAffine(paper, photo.bgr, laid, size, cv::INTER_AREA, cv::BORDER_TRANSPARENT);
  cv::Mat noise(size, CV_16SC3);
  cv::RNG chance(seed);
  chance.fill(noise, cv::RNG::NORMAL, 0, 4);
  for (int x = 0; x < size.width; ++x) {
    cv::Mat column = photo.bgr.col(x);
    column.convertTo(column, -1, lit.brightness * (1 + lit.slope * (double(x) / size.width - 0.5)));
  }
  cv::add(photo.bgr, noise, photo.bgr, cv::noArray(), CV_8U);

  EnvelopeOutline outline;
  const auto corner = [&](double x, double y) {
    return Point{laid(0, 0) * x + laid(0, 1) * y + laid(0, 2), laid(1, 0) * x + laid(1, 1) * y + laid(1, 2)};
  };
  const Quad quad{corner(0, 0), corner(kWidth, 0), corner(kWidth, kHeight), corner(0, kHeight)};
  outline.polygon_px = Polygon(quad.begin(), quad.end());
  // Which corner comes first depends on how it lies, not on what is written.
  const auto first = static_cast<std::size_t>(std::lround(std::abs(lit.turned_deg) / 90)) % 4;
  for (std::size_t k = 0; k < 4; ++k) outline.crop.quad_px[k] = quad[(k + first) % 4];
  outline.crop.width_px = cvRound((first % 2 == 0 ? kWidth : kHeight) * lit.scale);
  outline.crop.height_px = cvRound((first % 2 == 0 ? kHeight : kWidth) * lit.scale);
  const auto portrait = portray(outline, {}, photo);
  return {0, "", std::nullopt, portrait.ok() ? *portrait : Portrait{}};
}

TEST(Portrait, AgreesWithItselfInAnotherTurnAndLightAndWithNoOther) {
  const cv::Mat one = envelope("Digne 14.VII.04", "coll. Example", {500, 90});
  const cv::Mat other = envelope("Samoens 2.VI.11", "leg. N. Nobody", {120, 360});
  const Lit plain{4, 1, 1, 0};
  const Seen first = photographed(one, plain, 1);
  for (const Lit& lit : {Lit{-6, 0.8, 0.8, 0.2}, Lit{93, 1.2, 0.9, -0.2}, Lit{178, 0.9, 1, 0.3}, Lit{-88, 1, 0.7, 0}}) {
    const double same = likeness_of(first, photographed(one, lit, 2)).marks.value_or(-1);
    const double not_same = likeness_of(first, photographed(other, lit, 3)).marks.value_or(-1);
    EXPECT_GT(same, 0.8) << lit.turned_deg;
    EXPECT_LT(not_same, 0.6) << lit.turned_deg << ", though its lines lie at the same height";
  }
}

TEST(Portrait, OfTheSamePaperDiffersLittleInColour) {
  const cv::Mat one = envelope("Digne", "1904", {500, 90});
  cv::Mat kraft = one.clone();
  kraft.setTo(cv::Scalar(90, 130, 165));
  const Seen first = photographed(one, {0, 1, 1, 0}, 1);
  EXPECT_LT(likeness_of(first, photographed(one, {3, 1, 1, 0.1}, 2)).paper.value_or(99), 3);
  EXPECT_GT(likeness_of(first, photographed(kraft, {3, 1, 1, 0.1}, 2)).paper.value_or(0), 20);
}

TEST(Portrait, OfNothingIsNoneAndComparesWithNothing) {
  const auto none = portray({}, {}, {cv::Mat(10, 10, CV_8UC3, cv::Scalar::all(9))});
  ASSERT_TRUE(none.ok());
  EXPECT_EQ(none->width, 0);
  const Likeness like = likeness_of({0, "", std::nullopt, *none}, {1, "", std::nullopt, *none});
  EXPECT_FALSE(like.marks || like.text || like.size || like.paper);
  // One outline outside the photograph, one without area.
  EnvelopeOutline odd;
  odd.polygon_px = {{-900, -900}, {-800, -900}, {-800, -900}};
  odd.crop = {{{{-900, -900}, {-800, -900}, {-800, -850}, {-900, -850}}}, 100, 50};
  EXPECT_TRUE(portray(odd, {}, {cv::Mat(10, 10, CV_8UC3, cv::Scalar::all(9))}).ok());
}

}  // namespace
}  // namespace papillote::registration
