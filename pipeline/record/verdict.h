// Condition of one envelope and what to do first.
#pragma once

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/geometry.h"

namespace papillote {

// What is less sure is said only with its confidence beside it: neither counted, searched for, printed or published as a fact, nor heeded by triage.
inline constexpr double kSureFinding = 0.35;

struct Finding {
  std::string kind;           // "tear", "hole", "water_stain" ...: the detector's name
  int severity = 0;           // 1 trace, 2 slight, 3 serious, 4 severe
  double confidence = 0;      // 0..1
  Polygon polygon_px;         // in the photograph
  std::optional<double> size_mm;  // largest extent; nothing without a scale
  std::string words;          // one clause for a report: "round hole of 1.4 mm"
  std::string grown_since{};  // when the photograph was taken in which it was less or not there, ISO 8601; empty = not known to grow

  [[nodiscard]] bool sure() const { return confidence >= kSureFinding; }

  bool operator==(const Finding&) const = default;
};

struct Condition {
  bool judged = true;               // false: the photograph does not allow it (blurred, clipped)
  std::string why_not;              // when not judged; or, when judged, what part of it could not be
  std::vector<Finding> findings;
  std::vector<std::string> fragility;  // fragile without damage, in words

  bool operator==(const Condition&) const = default;
};

// Levels of priority, the last to be seen to first; each has a quarter of the scores.
inline constexpr std::array<std::string_view, 4> kLevels{"routine", "valuable", "stabilise", "isolate"};
[[nodiscard]] inline bool is_level(std::string_view word) { return std::find(kLevels.begin(), kLevels.end(), word) != kLevels.end(); }

struct Triage {
  std::string level = "routine";     // of kLevels
  double score = 0;                  // 0..1, orders envelopes within and across levels
  std::vector<std::string> reasons;  // in words a curator agrees with

  bool operator==(const Triage&) const = default;
};

}  // namespace papillote
