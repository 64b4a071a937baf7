// Print and type, read by Tesseract. The only file of the project that knows Tesseract is print_reader.cpp.
#pragma once

#include <memory>
#include <string>

#include <opencv2/core.hpp>

#include "pipeline/record/result.h"
#include "stages/reading/candidate.h"

namespace papillote::reading {

class PrintReader {
 public:
  // `languages`: packs joined by '+'. Failure: "no_language_data".
  [[nodiscard]] static Result<PrintReader> open(const std::string& languages);
  PrintReader(PrintReader&&) noexcept;
  PrintReader& operator=(PrintReader&&) noexcept;
  ~PrintReader();

  // `grey`: dark on light, CV_8UC1, kHeightPx high for the sizes of letters it was trained on.
  [[nodiscard]] Candidate read(const cv::Mat& grey) const;

  [[nodiscard]] const std::string& identity() const;

  static constexpr int kHeightPx = 64;

 private:
  struct Engine;
  explicit PrintReader(std::unique_ptr<Engine>);
  std::unique_ptr<Engine> engine_;
};

}  // namespace papillote::reading
