// Ink of known contrast on drawn paper, shown to the detector without a net: its odds are given.
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/detector.h"

namespace papillote::condition {
namespace detectors {
extern const Detector faded;
}

namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

constexpr double kPaper = 220;
const cv::Rect kLine(40, 50, 120, 15);  // of the view, about 48 x 6 mm

// A written line whose ink takes the share `taken` of the paper's light; the net cannot tell.
struct Written {
  cv::Mat photo = cv::Mat(560, 880, CV_8UC1, cv::Scalar(kPaper));  // four times as fine as the view
  View view;

  explicit Written(double taken) {
    cv::putText(photo, "Sikkim, 12.vi.1903", {4 * kLine.x + 8, 4 * kLine.br().y - 18}, cv::FONT_HERSHEY_SIMPLEX, 1.35, cv::Scalar(kPaper * (1 - taken)), 4);
    for (std::size_t kind = 0; kind < kDamages; ++kind) view.odds.push_back(cv::Mat(140, 220, CV_32FC1, cv::Scalar(-6)));
    view.odds[static_cast<std::size_t>(Damage::faded)].setTo(0);
    const auto left = double(kLine.x), top = double(kLine.y), right = double(kLine.br().x), bottom = double(kLine.br().y);
    view.writing = {{{left, top}, {right, top}, {right, bottom}, {left, bottom}}};
    view.picture = [this](cv::Rect part, double finer) {
      cv::Mat shown;
      cv::cvtColor(photo({cvRound(part.x * finer), cvRound(part.y * finer), cvRound(part.width * finer), cvRound(part.height * finer)}), shown, cv::COLOR_GRAY2BGR);
      return shown;
    };
  }
  Written(const Written&) = delete;
  Written& operator=(const Written&) = delete;

  std::vector<Sign> seen() const { return detectors::faded.look(view); }
};

TEST(Faded, PaleInkIsMeasuredAndTheSureFinding) {
  for (const double taken : {0.10, 0.16, 0.20, 0.25}) {
    const std::vector<Sign> signs = Written(taken).seen();
    ASSERT_THAT(signs, SizeIs(1)) << taken;
    EXPECT_THAT(signs[0].words, HasSubstr(std::to_string(cvRound(100 * taken)) + " %")) << taken;
    EXPECT_GT(signs[0].confidence, 0.5) << taken << ": surer than not, where the net cannot tell";
  }
  EXPECT_GT(Written(0.10).seen()[0].severity, Written(0.25).seen()[0].severity);
}

TEST(Faded, InkAsDarkAsSoundPencilIsNotFaded) {
  for (const double taken : {0.45, 0.6, 0.9}) EXPECT_THAT(Written(taken).seen(), IsEmpty()) << taken;
}

TEST(Faded, PaperThatDarkensAlongTheLineIsNoInk) {
  Written sheet(0.2);
  for (int x = 0; x < sheet.photo.cols; ++x) sheet.photo.col(x) *= 1 - 0.5 * x / sheet.photo.cols;
  const std::vector<Sign> signs = sheet.seen();
  ASSERT_THAT(signs, SizeIs(1));
  EXPECT_THAT(signs[0].words, testing::AnyOf(HasSubstr("20 %"), HasSubstr("21 %"), HasSubstr("22 %")));
}

TEST(Faded, RustOverPaleInkIsNoDarkInk) {
  const cv::Rect clip(80, 48, 20, 20);
  Written sheet(0.2);
  sheet.photo(cv::Rect(4 * clip.x, 4 * clip.y, 4 * clip.width, 4 * clip.height)).setTo(40);
  EXPECT_THAT(sheet.seen(), IsEmpty()) << "nothing says that it is rust";
  sheet.view.odds[static_cast<std::size_t>(Damage::rust)]((clip + cv::Size(8, 8)) - cv::Point(4, 4)).setTo(3);
  EXPECT_THAT(sheet.seen(), SizeIs(1));
}

}  // namespace
}  // namespace papillote::condition
