// What is known of one photograph before anything on it is judged.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/record/geometry.h"

namespace papillote {

struct Photo {
  std::string path;    // relative to the photographs' folder, '/' between parts
  Digest sha256;       // of the file's bytes: the photograph's identity
  std::string format;  // "jpeg", "png", "tiff"
  int width_px = 0;    // after EXIF orientation
  int height_px = 0;
  std::string taken;   // EXIF time as ISO 8601 local time, empty when not recorded
  std::string camera;  // make and model, empty when not recorded

  bool operator==(const Photo&) const = default;
};

// A printed code seen in the photograph.
struct SeenCode {
  std::string text;
  std::string symbology;  // "qr" or "data_matrix"
  Quad quad_px{};

  bool operator==(const SeenCode&) const = default;
};

// What the sheet label says. Unknown keys are kept.
struct Sheet {
  std::string tin;
  std::string sheet;
  std::string side;  // "front" or "back"
  std::map<std::string, std::string> more;

  bool operator==(const Sheet&) const = default;
};

struct Quality {
  std::string verdict = "ok";        // "ok" or "retake"
  std::vector<std::string> reasons;  // in words; may be present beside "ok" as remarks
  double sharpness = 0;              // 10-90 % rise of the sharper edges in px; smaller is sharper; 0 = not measured
  double clipped_light = 0;          // share of pixels without detail, 0..1
  double clipped_dark = 0;

  bool operator==(const Quality&) const = default;
};

// Scale, colour and codes of one photograph.
struct Calibration {
  std::optional<double> px_per_mm;               // nothing = no scale: sizes are left out, never guessed
  std::string scale_source = "none";             // "card", "given", "none"
  std::optional<std::array<double, 9>> mm_from_px;  // row-major homography onto the table plane, card corner = (0,0)
  std::optional<Quad> card_px;                   // outline of the capture card
  std::array<double, 3> gain_rgb{1, 1, 1};       // multiply linear RGB by this for neutral greys
  double grey_error = 0;                         // mean |dL*| of the six greys after correction; 0 = no card
  std::optional<Sheet> sheet;
  std::optional<Quad> label_px;                  // where the sheet label's code lies
  std::vector<SeenCode> slips;                   // identifier slips: codes that are no sheet label
  Quality quality;
  double confidence = 0;                         // of the scale, 0..1

  bool operator==(const Calibration&) const = default;
};

}  // namespace papillote
