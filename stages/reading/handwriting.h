// Handwriting, read by the project's own net (models/reader, see its card for what goes in and comes out).
#pragma once

#include <memory>
#include <string>

#include <opencv2/core.hpp>

#include "models/runtime.h"
#include "pipeline/record/result.h"
#include "stages/reading/lattice.h"

namespace papillote::reading {

class HandwritingReader {
 public:
  // Failures: those of models::open_model and models::read_part.
  [[nodiscard]] static Result<HandwritingReader> open(const std::string& models_dir);

  // `grey`: one line, dark on light, CV_8UC1, any size. A blank line gives a lattice without frames.
  [[nodiscard]] Result<Lattice> look(const cv::Mat& grey) const;

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
