// Segmentation: every envelope in a photograph as a polygon, touching ones apart, and its upright cut-out.
//
// The capture card, the sheet label, rulers and identifier slips are not envelopes. Outlines come in reading order of
// the sheet. No envelope at all is Failure "no_envelope".
#pragma once

#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "stages/segmentation/finder.h"

namespace papillote::segmentation {

inline constexpr Stage stage{"segmentation", 3};

struct Options {
  double least_side_mm = 20;
  double most_side_mm = 180;

  template <class Self, class Say>
  static void describe(Self& o, Say&& say) {
    say("least_side_mm", o.least_side_mm, About{"mm", "Smaller paper is not taken for an envelope.", 5, 100});
    say("most_side_mm", o.most_side_mm, About{"mm", "Larger paper is not taken for an envelope.", 50, 500});
  }
};

[[nodiscard]] Result<std::vector<EnvelopeOutline>> find_envelopes(const Photo&, const Calibration&, const image::Image&,
                                                                  const Finder&, const Options&);

// The same in less than half the time, for what must be known at the table: from a smaller picture, outlines true to a few millimetres.
// What it says is wrong with a photograph is to be asked of find_envelopes again.
[[nodiscard]] Result<std::vector<EnvelopeOutline>> glance(const Photo&, const Calibration&, const image::Image&, const Finder&,
                                                          const Options&);

}  // namespace papillote::segmentation
