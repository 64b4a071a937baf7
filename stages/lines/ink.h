// Where there is ink on the face of one envelope.
//
// This is the part that a trained network replaces: whatever makes an InkMap from a cut-out fits here.
#pragma once

#include <opencv2/core.hpp>

namespace papillote::lines {

struct InkMap {
  double px_per_mm = 0;
  cv::Mat missing;   // CV_32FC3, share of the paper's light that is missing in blue, green and red
  cv::Mat contrast;  // CV_32FC1, 0 = paper, 1 = black, where most is missing
  cv::Mat ink;       // CV_8UC1, 255 = stroke of something drawn, written or printed
  cv::Mat inside;    // CV_8UC1, 255 = on the envelope, its border left out
};

// `bgr`: cut-out at `px_per_mm`; `face`: CV_8UC1, 255 = envelope. Contrast: share of the paper's light that is missing, in the
// channel where most is missing, so that coloured ink counts like black. Paper: grey closing wider than any stroke. Ink:
// two thresholds above the paper's own texture (weak pixels count when they touch strong ones), without long straight thin
// marks (ruled lines, folds, flap edges) and without marks that have no edge (stains, shadows, wings behind glassine).
[[nodiscard]] InkMap map_ink(const cv::Mat& bgr, const cv::Mat& face, double px_per_mm);

}  // namespace papillote::lines
