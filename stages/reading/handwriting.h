// Handwriting, read by the project's own net (models/reader, see its card for what goes in and comes out).
#pragma once

#include <memory>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "models/runtime.h"
#include "pipeline/record/result.h"
#include "stages/reading/lattice.h"

namespace papillote::reading {

class HandwritingReader {
 public:
  // Failures: those of models::open_model and models::read_part.
  [[nodiscard]] static Result<HandwritingReader> open(const std::string& models_dir);

  // `greys`: one line each, dark on light, CV_8UC1, any size. A blank line gives a lattice without frames. Lines of about the same
  // width are read together, which takes a sixth less time.
  [[nodiscard]] Result<std::vector<Lattice>> look(const std::vector<cv::Mat>& greys) const;

  [[nodiscard]] int classes() const { return static_cast<int>(characters_->size()) + 1; }
  [[nodiscard]] std::string identity() const { return "reader " + model_.digest().hex; }

 private:
  HandwritingReader(models::Model model, std::u32string characters);

  models::Model model_;
  std::shared_ptr<const std::u32string> characters_;
};

// The net's input for a line: [1, 1, 64, w]; empty when the line is blank.
[[nodiscard]] models::Tensor net_input(const cv::Mat& grey);

}  // namespace papillote::reading
