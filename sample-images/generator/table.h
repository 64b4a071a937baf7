// What the envelopes lie on.
#pragma once
#include <opencv2/core.hpp>

#include "random.h"

namespace papillote::samples {

enum class Table { grey_card, baize, white_paper, wood, velvet, buff_card };

// Linear reflectance, CV_32FC3.
cv::Mat lay_table(Table table, cv::Size size, double px_per_mm, Random& random);
// An open tin seen from above: metal walls around a paper lining; the opening is `inside` in pixels.
cv::Mat lay_tin(cv::Size size, double px_per_mm, cv::Rect inside, Random& random);

}  // namespace papillote::samples
