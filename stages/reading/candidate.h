// What one reader makes of one line.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/text.h"

namespace papillote::reading {

struct Candidate {
  std::string text;                          // UTF-8
  double confidence = 0;                     // calibrated chance that every character is right
  double certainty = 0;                      // mean over the characters, uncalibrated
  double upright = 0;                        // how well it speaks for the direction it was read in; compares two readings by one reader
  std::vector<Alternative> alternatives;     // best first, without `text`
  std::vector<double> character_confidence;  // one per code point of `text`
};

}  // namespace papillote::reading
