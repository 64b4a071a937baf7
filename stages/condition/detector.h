// A detector of one kind of damage: one file in detectors/, which defines `extern const Detector <file name>`.
//
// The build lists the folder and writes the table of detectors; a file without its symbol does not link.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"

namespace papillote::condition {

// What the net tells apart, in the order of its channels (models/damage). Bulging is measured better than learnt (bulge.h), fading is
// measured too (detectors/faded.cpp).
enum class Damage {
  tear, hole, water_stain, mould, foxing, frass, rust, tape, open_flap, protruding, crushed, faded, fragments, missing_corner, webbing, grease,
  broken_wings, no_body,
  glassine, bulging  // no damage, but fragile
};
inline constexpr std::size_t kDamages = 20;

// One envelope as all detectors see it, with a margin of the table around it. Everything is in the pixels of the net's maps.
struct View {
  std::vector<cv::Mat> odds;        // CV_32FC1, kDamages maps: log odds that a pixel belongs to this damage
  cv::Mat depth_px;                 // CV_32FC1, distance into the paper from its edge; 0 off it
  cv::Mat reach_px;                 // CV_32FC1, distance from the paper; 0 on it
  std::vector<Polygon> writing;     // the strips that hold the lines of annotation, without newsprint
  std::optional<double> px_per_mm;  // nothing = sizes are left out
  double unit_px = 2.5;             // about one millimetre, for sizes that decide, even without a scale
  // A closer look at a part of the photograph, CV_8UC3, `finer` times the scale of the maps.
  std::function<cv::Mat(cv::Rect, double finer)> picture;
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
  std::vector<std::string_view> explained_by = {};  // kinds that look like this one where it lies on them: they stand, it goes
};

}  // namespace papillote::condition
