// Pictures for the long term: TIFF 6.0 by libtiff, packed without loss (Deflate), the same picture always the same bytes.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/geometry.h"
#include "pipeline/record/result.h"

namespace papillote::image {

struct ArchiveTags {
  std::string identifier;                  // 269 DocumentName
  std::string description;                 // 270 ImageDescription
  std::string made;                        // 306 DateTime: when the photograph was taken, ISO 8601; left out when empty
  std::string camera;                      // 272 Model
  std::string copyright;                   // 33432
  std::string xmp;                         // 700
  std::optional<Point> px_per_mm;          // 282, 283, 296; without it no unit is claimed
  std::vector<std::byte> icc;              // 34675; empty with three channels = sRGB, whose profile is then embedded
};

// `pixels`: 8 or 16 bit, one channel or B G R. In strips; larger than 2048 px in tiles of 256 px, with reduced pictures behind
// it (NewSubfileType 1), each half the last. Failure "unwritable" when libtiff refuses.
[[nodiscard]] Result<std::string> archive_tiff(const cv::Mat& pixels, const ArchiveTags&);

}  // namespace papillote::image
