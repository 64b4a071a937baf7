// A detector of one kind of damage: one file in detectors/, which defines `const Detector <file name>`.
//
// The build lists the folder and writes the table of detectors; a file without its symbol does not link.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/envelope.h"
#include "pipeline/record/geometry.h"
#include "pipeline/record/verdict.h"

namespace papillote::condition {

// One envelope prepared once for all detectors. Everything is in crop pixels, upright as the crop, with a margin of the
// table around the paper.
struct View {
  cv::Mat bgr;                     // CV_8UC3, white-balanced
  cv::Mat paper;                   // CV_8U mask, 255 = on the envelope
  cv::Mat ink;                     // CV_8U mask, 255 = lines of writing and print
  std::optional<double> px_per_mm; // nothing = sizes are left out
  Polygon outline;                 // of the envelope, crop px
  std::string_view shape;          // as in EnvelopeOutline
};

struct Sign {
  Polygon region;       // crop px
  int severity = 1;     // 1..4
  double confidence = 0;
  std::optional<double> size_mm;
  std::string words;
};

struct Detector {
  std::string_view name;   // the finding's kind
  std::string_view title;  // for people
  int version;             // raise whenever an answer may change
  std::vector<Sign> (*look)(const View&);
};

}  // namespace papillote::condition
