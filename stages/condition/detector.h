// A detector of one kind of damage: one file in detectors/, which defines `extern const Detector <file name>`.
//
// The build lists the folder and writes the table of detectors; a file without its symbol does not link.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::condition {

// One envelope prepared once for all detectors, at about 8 px per mm. Everything is in the pixels of this view: the crop's sides are
// level and a margin of the table shows around the paper.
struct View {
  cv::Mat bgr;                      // CV_8UC3, white-balanced
  cv::Mat lab;                      // CV_32FC3, L* 0..100, a* b*
  cv::Mat tone;                     // CV_32FC3 Lab, the paper's own slow tone without spots and writing (see surface.h)
  cv::Mat density;                  // CV_32FC3, BGR optical density above the tone (see surface.h)
  cv::Mat from_table;               // CV_32F, colour distance from the table around the paper (see surface.h)
  cv::Mat paper;                    // CV_8U mask, 255 = on this envelope
  cv::Mat others;                   // CV_8U mask, 255 = on another envelope, the capture card, a code or another thing too large to be a part
  cv::Mat ink;                      // CV_8U mask, 255 = within a line of writing or print
  cv::Mat stray;                    // CV_8U mask, 255 = neither table nor paper nor others (see surface.h)
  std::vector<cv::Vec3f> table_samples;  // Lab, from all over the photograph where no envelope is known
  std::optional<double> px_per_mm;  // nothing = sizes are left out
  double unit_px = 8;               // about one millimetre, for kernel sizes, even without a scale
  Polygon outline;                  // of the envelope
  std::string_view shape;           // as in EnvelopeOutline
  std::string_view material;        // as in LineLayout::paper
};

struct Sign {
  Polygon region;
  int severity = 1;       // 1 trace .. 4 severe
  double confidence = 0;  // 0..1
  std::optional<double> size_mm;
  std::string words;
};

struct Detector {
  std::string_view name;   // the finding's kind
  int version;             // raise whenever an answer may change
  std::vector<Sign> (*look)(const View&);
};

}  // namespace papillote::condition
