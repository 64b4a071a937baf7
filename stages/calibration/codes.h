// Printed codes on a photograph: the sheet label's QR code and the envelopes' identifier slips (QR or Data Matrix).
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include <opencv2/core.hpp>

#include "pipeline/record/photo.h"

namespace papillote::calibration {

// Every code that can be read, each once. `grey` is CV_8UC1; `px_per_mm` narrows the search where it is known, 0 = not
// known. Small codes are looked for where dark and light change densely in a square patch, then read one by one at
// full resolution, because a reader let loose on the whole photograph is slow and gives up on small codes.
[[nodiscard]] std::vector<SeenCode> find_codes(const cv::Mat& grey, double px_per_mm);

// "tin=07;sheet=3;side=back": keys in any order and case, unknown ones kept. Nothing when the text is no sheet label:
// a part without '=', or neither a tin nor a sheet.
[[nodiscard]] std::optional<Sheet> parse_sheet_label(std::string_view text);

}  // namespace papillote::calibration
