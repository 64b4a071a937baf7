// The card is measured on the page as another program draws it, against the layout of the project's capture card.
#include "pipeline/bench/capture_card.h"

#include <gtest/gtest.h>

#include "printed.h"

namespace papillote::bench {
namespace {

constexpr int kDpi = 600;
constexpr double kPxPerMm = kDpi / 25.4;
constexpr double kToleranceMm = 0.1;

struct Square {
  double left = 0;  // mm on the page
  double top = 0;
  double width = 0;
  double height = 0;
};

const cv::Mat& printed_card() {
  static const cv::Mat page = printed::page(capture_card_pdf("2026-11-25T08:30:00Z"), 1, kDpi);
  return page;
}

const cv::Mat& grey_card() {
  static const cv::Mat grey = [] {
    cv::Mat converted;
    cv::cvtColor(printed_card(), converted, cv::COLOR_BGR2GRAY);
    return converted;
  }();
  return grey;
}

// The four black squares: upper left, upper right, lower right, lower left.
std::vector<Square> find_squares() {
  const cv::Mat dark = grey_card() < 128;
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(dark, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  std::vector<Square> all;
  for (const auto& outline : outlines) {
    const cv::Rect box = cv::boundingRect(outline);
    if (std::abs(box.width / kPxPerMm - 15) > 1 || std::abs(box.height / kPxPerMm - 15) > 1) continue;
    all.push_back({box.x / kPxPerMm, box.y / kPxPerMm, box.width / kPxPerMm, box.height / kPxPerMm});
  }
  std::sort(all.begin(), all.end(), [](const Square& a, const Square& b) { return a.top + a.left < b.top + b.left; });
  if (all.size() == 4) {
    if (all[1].top > all[2].top) std::swap(all[1], all[2]);  // upper right before lower left
    std::swap(all[2], all[3]);
  }
  return all;
}

const std::vector<Square>& squares() {
  static const std::vector<Square> found = find_squares();
  return found;
}

// Upper left corner of the card on the page.
cv::Point2d card_corner() {
  const Square first = squares().at(0);
  return {first.left - 2, first.top - 2};
}

cv::Vec3b colour_at(double x_mm, double y_mm) {
  const cv::Point2d corner = card_corner();
  return printed_card().at<cv::Vec3b>(static_cast<int>((corner.y + y_mm) * kPxPerMm),
                                      static_cast<int>((corner.x + x_mm) * kPxPerMm));
}

bool dark_at(double x_mm, double y_mm) { return colour_at(x_mm, y_mm)[1] < 128; }

TEST(CaptureCard, PageIsA4) {
  EXPECT_NEAR(printed_card().cols / kPxPerMm, 210, 0.1);
  EXPECT_NEAR(printed_card().rows / kPxPerMm, 297, 0.1);
}

TEST(CaptureCard, MarkersStandWhereTheLayoutSays) {
  const std::vector<Square>& found = squares();
  ASSERT_EQ(found.size(), 4u);
  // source: the project's capture card layout, upper left corners of ids 0 to 3, side 15
  const std::vector<cv::Point2d> corners{{2, 2}, {93, 2}, {93, 43}, {2, 43}};
  for (std::size_t id = 0; id < 4; ++id) {
    EXPECT_NEAR(found[id].left - found[0].left, corners[id].x - 2, kToleranceMm) << id;
    EXPECT_NEAR(found[id].top - found[0].top, corners[id].y - 2, kToleranceMm) << id;
    EXPECT_NEAR(found[id].width, 15, kToleranceMm) << id;
    EXPECT_NEAR(found[id].height, 15, kToleranceMm) << id;
  }
}

TEST(CaptureCard, MarkersAreThoseOfTheDictionary) {
  // source: OpenCV 4.6, aruco, DICT_4X4_50, the first two bytes of ids 0 to 3 in its table of bytes
  constexpr unsigned kBytes[4][2] = {{181, 50}, {15, 154}, {51, 45}, {153, 70}};
  const std::vector<Square>& found = squares();
  ASSERT_EQ(found.size(), 4u);
  for (std::size_t id = 0; id < 4; ++id) {
    unsigned bits = 0;
    for (int row = 0; row < 6; ++row)
      for (int column = 0; column < 6; ++column) {
        const double x = found[id].left - card_corner().x + (column + 0.5) * 2.5;
        const double y = found[id].top - card_corner().y + (row + 0.5) * 2.5;
        const bool border = row == 0 || column == 0 || row == 5 || column == 5;
        if (border)
          EXPECT_TRUE(dark_at(x, y)) << id << " " << row << " " << column;
        else
          bits = bits << 1 | (dark_at(x, y) ? 0u : 1u);
      }
    EXPECT_EQ(bits, kBytes[id][0] << 8 | kBytes[id][1]) << id;
  }
}

// Middles of the dark runs along a line of the card.
std::vector<double> dark_runs(double y_mm, double from_mm, double to_mm) {
  const cv::Mat& grey = grey_card();
  const cv::Point2d corner = card_corner();
  const int row = static_cast<int>((corner.y + y_mm) * kPxPerMm);
  std::vector<double> middles;
  int begin = -1;
  for (int x = static_cast<int>((corner.x + from_mm) * kPxPerMm); x <= static_cast<int>((corner.x + to_mm) * kPxPerMm); ++x) {
    const bool dark = grey.at<unsigned char>(row, x) < 128;
    if (dark && begin < 0) begin = x;
    if (!dark && begin >= 0) {
      middles.push_back((begin + x) / 2.0 / kPxPerMm - corner.x);
      begin = -1;
    }
  }
  return middles;
}

TEST(CaptureCard, BarHasATickEveryMillimetreFrom5To105) {
  const std::vector<double> every = dark_runs(20.2, 3, 107);
  ASSERT_EQ(every.size(), 101u);
  for (std::size_t mm = 0; mm <= 100; ++mm) EXPECT_NEAR(every[mm], 5 + static_cast<double>(mm), kToleranceMm);
  const std::vector<double> fives = dark_runs(21.1, 3, 107);
  ASSERT_EQ(fives.size(), 21u);
  for (std::size_t k = 0; k < fives.size(); ++k) EXPECT_NEAR(fives[k], 5 + 5.0 * static_cast<double>(k), kToleranceMm);
  const std::vector<double> tens = dark_runs(21.9, 3, 107);
  ASSERT_EQ(tens.size(), 11u);
  for (std::size_t k = 0; k < tens.size(); ++k) EXPECT_NEAR(tens[k], 5 + 10.0 * static_cast<double>(k), kToleranceMm);
  EXPECT_TRUE(dark_at(55.5, 19));
  EXPECT_FALSE(dark_at(55.5, 18.7));  // ticks go downward
}

TEST(CaptureCard, PatchesHaveTheirPlaceAndColour) {
  // source: the project's capture card layout, sRGB of the twelve patches
  constexpr int kRgb[12][3] = {{243, 243, 242}, {200, 200, 200}, {160, 160, 160}, {122, 122, 121},
                               {85, 85, 85},    {52, 52, 52},    {56, 61, 150},   {70, 148, 73},
                               {175, 54, 60},   {231, 199, 31},  {187, 86, 149},  {8, 133, 161}};
  for (int k = 0; k < 12; ++k) {
    const double left = 7 + 8 * k;
    // 0.15 mm inside each edge and in the middle: the patch; 0.15 mm outside: paper
    for (const auto& [x, y] :
         {std::pair{left + 0.15, 35.0}, {left + 7.45, 35.0}, {left + 3.8, 29.65}, {left + 3.8, 40.85}, {left + 3.8, 35.0}}) {
      const cv::Vec3b bgr = colour_at(x, y);
      for (int channel = 0; channel < 3; ++channel)
        EXPECT_NEAR(bgr[2 - channel], kRgb[k][channel], 1) << k << " at " << x << " " << y;
    }
    for (const auto& [x, y] : {std::pair{left - 0.15, 35.0}, {left + 7.75, 35.0}, {left + 3.8, 29.35}, {left + 3.8, 41.15}})
      EXPECT_GE(colour_at(x, y)[1], 253) << k << " at " << x << " " << y;
  }
}

TEST(CaptureCard, SaysHowToCheckThePrint) {
  const std::string words = printed::words(capture_card_pdf("2026-11-25T08:30:00Z"));
  EXPECT_NE(words.find("100 %"), std::string::npos);
  EXPECT_NE(words.find("Measure the bar"), std::string::npos);
  EXPECT_NE(words.find("steel rule"), std::string::npos);
}

TEST(CaptureCard, SameInstantSameBytes) {
  EXPECT_EQ(capture_card_pdf("2026-11-25T08:30:00Z"), capture_card_pdf("2026-11-25T08:30:00Z"));
  EXPECT_NE(capture_card_pdf("2026-11-25T08:30:00Z"), capture_card_pdf("2026-11-26T08:30:00Z"));
}

}  // namespace
}  // namespace papillote::bench
