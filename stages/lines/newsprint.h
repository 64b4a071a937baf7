// Newsprint behind the annotation: told apart by how much light the two inks take away.
#pragma once

#include <optional>
#include <vector>

#include <opencv2/core.hpp>

#include "stages/lines/grouping.h"
#include "stages/lines/ink.h"

namespace papillote::lines {

// Ink told from the print below it comes in pieces: gaps count this much less when it is grouped.
inline constexpr double kBroken = 1.6;

struct PrintedPaper {
  cv::Mat annotation;            // CV_8UC1, ink on top of the print
  std::vector<InkLine> print;    // the lines of the newspaper
  double along_deg = 0;          // their direction
};

// Nothing unless small print covers most of the face. Body type is thin and grey: the middle of its strokes gives the usual optical
// density; what is clearly denser, or of another hue, is annotation. Headings are as dense as annotation, but stand in rows that the body
// type leaves free.
[[nodiscard]] std::optional<PrintedPaper> split_newsprint(const InkMap& map);

}  // namespace papillote::lines
