// The finder: a network that marks paper envelopes and where one ends and the next begins (models/finder, see its card for
// what goes in and comes out).
#pragma once

#include <string>

#include <opencv2/core.hpp>

#include "models/runtime.h"
#include "pipeline/record/result.h"

namespace papillote::segmentation {

// What the network says of a photograph, all of one size; a pixel here is `photo_px` pixels of the photograph.
struct Marks {
  cv::Mat paper;           // CV_32F, probability that an envelope is seen here
  cv::Mat edge;            // CV_32F, that an envelope ends here
  cv::Mat covered;         // CV_32F, that the envelope seen here goes on beneath something close by
  cv::Mat to_middle;       // CV_32FC2, from here to the middle of what is seen of the envelope, in pixels of the marks
  cv::Mat to_full_middle;  // CV_32FC2, to the middle of the whole envelope, hidden parts too
  double photo_px = 1;
};

class Finder {
 public:
  // Failures: those of models::open_model.
  [[nodiscard]] static Result<Finder> open(const std::string& models_dir);

  static constexpr int kLongSide_px = 1024;  // of the picture that the network sees, as it learnt them

  // `bgr` is CV_8UC3, at least 64 px on each side. A smaller `long_side_px` is quicker and misses more of what is small.
  [[nodiscard]] Result<Marks> look(const cv::Mat& bgr, int long_side_px = kLongSide_px) const;

  [[nodiscard]] std::string identity() const { return "finder " + model_.digest().hex; }

 private:
  explicit Finder(models::Model model) : model_(std::move(model)) {}

  models::Model model_;
};

}  // namespace papillote::segmentation
