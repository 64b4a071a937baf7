// Faded writing: ink that hardly stands out from the paper.
#include <algorithm>
#include <cstdint>

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

// Share of the paper's light that the strokes take away.
double contrast_in(const View& view, const cv::Rect& part) {
  cv::Mat grey;
  cv::cvtColor(view.picture(part, 2), grey, cv::COLOR_BGR2GRAY);
  std::vector<std::uint8_t> values(grey.begin<std::uint8_t>(), grey.end<std::uint8_t>());
  if (values.empty()) return 0;
  const auto at = [&](double share) {
    const auto n = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), n, values.end());
    return static_cast<double>(*n);
  };
  const double paper = std::max(1.0, at(0.6));
  return 1 - at(0.03) / paper;
}

std::vector<Sign> look(const View& view) {
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::faded, -0.1, 5)) {
    Sign sign = sign_of(mark, 0.27, 0.37);
    const double contrast = contrast_in(view, mark.box);
    sign.severity = severity_of(-contrast, -0.4, -0.28, -0.15);
    sign.words = fmt::format("the ink takes {:.0f} % of the paper's light", 100 * contrast);
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector faded{"faded", 4, look};

}  // namespace papillote::condition::detectors
