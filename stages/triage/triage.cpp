#include "stages/triage/triage.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdlib>
#include <string_view>

#include <fmt/format.h>

namespace papillote::triage {
namespace {

enum Level { kRoutine, kValuable, kStabilise, kIsolate };
constexpr std::array<std::string_view, 4> kLevelNames{"routine", "valuable", "stabilise", "isolate"};

// One line per sign: from which severity it counts, where it puts the envelope, and the words for the curator. The order of work
// (pests, then damp and mould, then loose or fragile, then stained, then sound) is common practice.
struct Rule {
  std::string_view kind;
  int from_severity;
  Level level;
  double weight;  // 0..1 within the level: what to take first among equals
  std::string_view words;
};

constexpr std::array kRules{
    Rule{"frass", 1, kIsolate, 1.0, "powder or pellets of a feeding insect: isolate the tin and look for life"},
    Rule{"webbing", 1, kIsolate, 1.0, "webbing or cast skins: isolate the tin and look for life"},
    Rule{"mould", 1, kIsolate, 0.9, "looks like mould: keep apart and dry, wear a mask"},
    Rule{"hole", 1, kIsolate, 0.7, "hole as a feeding insect leaves it: look for powder before it goes back"},
    Rule{"protruding", 1, kStabilise, 0.9, "a part sticks out of the paper and will break at the next touch"},
    Rule{"fragments", 1, kStabilise, 0.9, "loose parts: keep them with the envelope, do not shake"},
    Rule{"open_flap", 1, kStabilise, 0.8, "flap open or seam burst: the content can slide out"},
    Rule{"water_stain", 2, kStabilise, 0.7, "tide line of old damp: find out whether the tin is dry"},
    Rule{"tear", 2, kStabilise, 0.7, "paper torn: support it or put it into a sleeve"},
    Rule{"missing_corner", 2, kStabilise, 0.6, "part of the paper is gone: support it or put it into a sleeve"},
    Rule{"crushed", 3, kStabilise, 0.6, "crushed: the content may be broken"},
    Rule{"rust", 2, kStabilise, 0.5, "rust of a pin or clip goes on eating the paper"},
    Rule{"faded", 3, kStabilise, 0.4, "writing is fading: copy it while it can be read"},
    Rule{"grease", 2, kStabilise, 0.3, "grease from the body: degrease if it is to be set"},
};

// A finding below this is shown but moves nobody up the list.
constexpr double kLeastConfidence = 0.35;
// Papered material of this age is seldom replaceable (common practice).
constexpr int kOldBefore = 1900;

std::string_view severity_words(int severity) {
  constexpr std::array<std::string_view, 5> words{"no", "trace", "slight", "serious", "severe"};
  return words[static_cast<std::size_t>(std::clamp(severity, 0, 4))];
}

// The first year of an EDTF value, or 0 when it has none of four plain digits.
int first_year(std::string_view edtf) {
  const std::size_t begin = edtf.find_first_of("0123456789");
  if (begin == std::string_view::npos || edtf.size() < begin + 4) return 0;
  const std::string year(edtf.substr(begin, 4));
  const bool digits = std::all_of(year.begin(), year.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
  return digits ? std::atoi(year.c_str()) : 0;
}

}  // namespace

Result<Triage> rank(const Annotation& annotation, const Interpretation& facts, const Condition& condition) {
  Level level = kRoutine;
  double within = 0;
  std::vector<std::pair<double, std::string>> reasons;
  const auto count = [&](Level to, double weight, std::string words) {
    if (to > level) {
      level = to;
      within = 0;
    }
    if (to == level) within = std::max(within, weight);
    reasons.emplace_back(static_cast<int>(to) + weight, std::move(words));
  };

  for (const Finding& finding : condition.findings) {
    if (finding.confidence < kLeastConfidence) continue;
    for (const Rule& rule : kRules) {
      if (rule.kind != finding.kind || finding.severity < rule.from_severity) continue;
      const double strength = rule.weight * (0.4 + 0.15 * finding.severity) * finding.confidence;
      count(rule.level, strength,
            fmt::format("{} ({}{}, {:.0f} % sure)", rule.words, severity_words(finding.severity),
                        finding.words.empty() ? "" : ": " + finding.words, 100 * finding.confidence));
    }
  }

  if (facts.type_status && facts.type_status->value)
    count(kValuable, 1.0, fmt::format("marked \"{}\": type material is handled first of all sound envelopes", facts.type_status->verbatim));
  if (facts.date && facts.date->value) {
    const int year = first_year(*facts.date->value);
    if (year > 0 && year < kOldBefore && facts.date->confidence >= 0.5)
      count(kValuable, 0.5, fmt::format("collected in {}: old material is seldom replaceable", year));
  }
  for (const std::string& words : condition.fragility) count(kRoutine, 0.4, words);
  if (!condition.judged)
    count(kRoutine, 0.8, fmt::format("condition could not be judged ({}): look at it before anything else is decided", condition.why_not));
  const bool read = std::any_of(annotation.lines.begin(), annotation.lines.end(),
                                [](const Reading& r) { return r.line.kind != LineKind::newsprint && !r.text.empty(); });
  if (!read) count(kRoutine, 0.2, "no annotation was read: the data may lie inside, do not guess");

  Triage triage;
  triage.level = kLevelNames[static_cast<std::size_t>(level)];
  triage.score = std::min(1.0, 0.25 * static_cast<int>(level) + 0.25 * std::min(within, 1.0));
  std::stable_sort(reasons.begin(), reasons.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  for (auto& [weight, words] : reasons)
    if (std::find(triage.reasons.begin(), triage.reasons.end(), words) == triage.reasons.end())
      triage.reasons.push_back(std::move(words));
  if (triage.reasons.empty()) triage.reasons.emplace_back("nothing seen that cannot wait");
  return triage;
}

}  // namespace papillote::triage
