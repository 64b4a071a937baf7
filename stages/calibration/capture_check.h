// What a photograph is worth as a capture: measured on the card, on the bare table and all over the picture, while the tin
// is still open.
//
// Metrics after FADGI Technical Guidelines (2016) and Metamorfoze 2.0 (draft 2023). The card is printed at home: its greys and
// edges are usable, its colours only where somebody measured them.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/photo.h"
#include "stages/calibration/colour_difference.h"
#include "stages/calibration/frequency_response.h"

namespace papillote::calibration {

struct Glare {
  Polygon box_px;
  double area_mm2 = 0;
};

struct CaptureMeasures {
  std::optional<double> px_per_inch;            // at the card
  std::optional<FrequencyResponse> response;    // median over the card's edges
  std::optional<double> misregistration_px;     // of the edges in red, green and blue; median over the card's edges
  std::optional<double> distortion_percent;     // of the card's corners from a plane, of its length: the card's place only
  std::optional<double> white_balance;          // dE(a*b*) of the greys, mean
  std::optional<double> tone_error;             // largest |dL*| of the greys against the printed values
  std::optional<double> noise;                  // standard deviation of L* within a grey, mean
  std::optional<double> unevenness_percent;     // (most - least) / mean light of the bare table in nine fields of the picture
  std::optional<double> mean_colour_error;      // CIEDE2000, S_L = 1, against `measured_patches`
  std::optional<double> most_colour_error;
  std::array<double, 9> rise_px{};              // of the sharper edges in each of nine fields, row by row; 0 = too few edges
  std::vector<Glare> glare;                     // burnt-out spots with detail around them; none is looked for without a scale
};

// `measured_patches`: L*a*b* under D50 of the twelve patches of the card that is used; empty when nobody measured them.
[[nodiscard]] CaptureMeasures measure_capture(const Calibration&, const image::Image&, const std::vector<Lab>& measured_patches = {});

// A measure beside a published aim.
struct Aim {
  std::string metric;    // "sampling rate"
  std::string measured;  // "402 ppi"
  std::string aim;       // "at least 400 ppi"
  std::string source;
  bool met = false;
};
// Only measures that were taken. Aims known only at second hand are left out: nothing may fail on them.
[[nodiscard]] std::vector<Aim> beside_aims(const CaptureMeasures&);

// Field of the picture whose edges are much softer than those of the sharpest, in words ("upper left"); empty when none is.
[[nodiscard]] std::string soft_field(const CaptureMeasures&);

}  // namespace papillote::calibration
