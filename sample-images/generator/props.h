// What lies on the table besides envelopes: capture card, sheet label, identifier slips, a ruler.
#pragma once
#include <opencv2/core.hpp>
#include <string>

#include "drawing.h"
#include "fonts.h"

namespace papillote::samples {

// A flat printed thing drawn at px_per_mm, upper left corner of its paper at (0, 0).
struct Prop {
  cv::Mat colour;  // CV_32FC3 linear reflectance, the whole rectangle is paper
  double width_mm, height_mm;
};

// 110 x 60 mm, four ArUco markers of dictionary 4x4_50, millimetre bar, twelve patches.
Prop capture_card(const FontShelf& shelf, double px_per_mm);
Prop sheet_label(const FontShelf& shelf, const std::string& words, const std::string& period, const std::string& code, double px_per_mm);
Prop identifier_slip(const FontShelf& shelf, const std::string& number, bool data_matrix, double px_per_mm);
Prop ruler(const FontShelf& shelf, double length_mm, double px_per_mm);

}  // namespace papillote::samples
