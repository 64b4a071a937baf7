// Calibration: what the capture card, the sheet label and the slips in a photograph say.
//
// Finds the four ArUco markers of the capture card (dictionary 4x4_50, ids 0-3), from them the scale, the
// plane of the table and the light; reads the sheet label and identifier slips (QR, Data Matrix); measures
// sharpness and clipping and gives the verdict "retake" where reading would be hopeless. A photograph without a card is
// no failure: the scale comes from the options or stays unknown.
#pragma once

#include "pipeline/image/image.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"

namespace papillote::calibration {

inline constexpr Stage stage{"calibration", 1};

struct Options {
  double px_per_mm = 0;

  template <class Self, class Say>
  static void describe(Self& o, Say&& say) {
    say("px_per_mm", o.px_per_mm, About{"px/mm", "Scale of photographs without a capture card; 0 = not known.", 0, 200});
  }
};

[[nodiscard]] Result<Calibration> calibrate(const Photo&, const image::Image&, const Options&);

}  // namespace papillote::calibration
