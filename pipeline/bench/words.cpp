#include "pipeline/bench/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace papillote::bench {
namespace {

constexpr double kDoubtful = 0.6;  // below this a claim is shown with its doubt

template <class Value, class Say>
std::string claim_words(const std::optional<Claim<Value>>& claim, Say say) {
  if (!claim) return {};
  if (!claim->value) return claim->verbatim.empty() ? std::string{} : fmt::format("open: \"{}\"", claim->verbatim);
  return say(*claim->value) + (claim->confidence < kDoubtful ? " (doubtful)" : "");
}

}  // namespace

std::string date_words(const Interpretation& facts) {
  return claim_words(facts.date, [](const std::string& edtf) { return edtf; });
}

std::string place_words(const Interpretation& facts) {
  return claim_words(facts.place, [](const Place& place) {
    return place.country.empty() ? place.name : fmt::format("{}, {}", place.name, place.country);
  });
}

std::string taxon_words(const Interpretation& facts) {
  return claim_words(facts.taxon, [](const std::string& name) { return name; });
}

std::string kind_words(const std::string& kind) {
  std::string words = kind;
  std::replace(words.begin(), words.end(), '_', ' ');
  return words;
}

std::string severity_words(int severity) {
  constexpr std::array<const char*, 4> kWords{"trace", "slight", "serious", "severe"};
  return severity >= 1 && severity <= 4 ? kWords[static_cast<std::size_t>(severity - 1)] : "";
}

std::string finding_words(const Finding& finding) {
  std::string words = kind_words(finding.kind);
  if (const std::string severity = severity_words(finding.severity); !severity.empty()) words += ", " + severity;
  if (!finding.words.empty()) words += ": " + finding.words;
  return words;
}

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
  std::string text;
  for (const std::string& part : parts) {
    if (part.empty()) continue;
    if (!text.empty()) text += between;
    text += part;
  }
  return text;
}

std::string sheet_words(const std::string& sheet, const std::string& side) {
  const std::string words = sheet.empty() ? "sheet not known" : "sheet " + sheet;
  return side == "back" ? words + ", back" : words;
}

}  // namespace papillote::bench
