#include "stages/lines/lines.h"

#include "stages/lines/examine.h"

namespace papillote::lines {

Result<LineLayout> find_lines(const EnvelopeOutline& envelope, const Calibration& calibration, const image::Image& photo) {
  constexpr double kWriting = 0.5;
  Examined all = examine(envelope, calibration, photo);
  LineLayout layout;
  layout.paper = std::move(all.paper);
  for (TextLine& line : all.lines)
    if (line.confidence >= kWriting) layout.lines.push_back(std::move(line));
  return layout;
}

}  // namespace papillote::lines
