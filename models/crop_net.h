// The nets that mark one envelope pixel by pixel: lines (models/lines) and damage (models/damage). Both look at the same kind of crop,
// described in their cards.
#pragma once

#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "models/runtime.h"
#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"

namespace papillote::models {

// What a net says of one envelope. Record coordinates: pixel (0, 0) of a map begins at (0, 0).
struct CropMarks {
  std::vector<cv::Mat> maps;       // CV_32FC1, one a channel of the net, at half the scale of its picture
  cv::Mat paper;                   // CV_8UC1, 255 = within the envelope's outline
  double px_per_mm = 0;            // of the maps; without a scale as if the envelope were of usual size
  cv::Matx33d photo_from_map;
};

// Whether the mirror image of the crop is worth a look too, by the maps of the crop as it is; what the net says of both is then averaged.
using WorthMirroring = bool (*)(const std::vector<cv::Mat>& maps);

class CropNet {
 public:
  // Failures: those of open_model.
  [[nodiscard]] static Result<CropNet> open(const std::string& models_dir, const std::string& name);

  // `margin_mm`: table shown around the envelope's crop. An envelope smaller than a few pixels gives no maps. Failure: "inference".
  [[nodiscard]] Result<CropMarks> look(const EnvelopeOutline&, const Calibration&, const image::Image&, double margin_mm, WorthMirroring = nullptr) const;

  [[nodiscard]] std::string identity() const { return model_.digest().hex; }

 private:
  explicit CropNet(Model model) : model_(std::move(model)) {}
  [[nodiscard]] Result<std::vector<cv::Mat>> maps_of(const cv::Mat& bgr, const cv::Mat& paper) const;
  Model model_;
};

}  // namespace papillote::models
