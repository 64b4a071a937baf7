// A tin: a line for each line of annotation, what follows a tab is another reading of it, an empty line begins the next
// envelope. The first line is the heading of the tin.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <sstream>
#include <string>
#include <vector>

#include "stages/interpretation/tin.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace papillote;
  constexpr std::size_t kMostBytes = 4000, kMostEnvelopes = 12;
  std::istringstream text(std::string(reinterpret_cast<const char*>(data), std::min(size, kMostBytes)));
  std::string heading, line;
  std::getline(text, heading);
  std::vector<Annotation> annotations(1);
  while (std::getline(text, line) && annotations.size() < kMostEnvelopes) {
    if (line.empty()) {
      annotations.emplace_back();
      continue;
    }
    Reading reading;
    const std::size_t tab = line.find('\t');
    reading.text = line.substr(0, tab);
    // Confidence, kind and place follow the bytes, so that every branch is met.
    const double byte = static_cast<unsigned char>(line.back());
    reading.confidence = byte / 255;
    reading.line.kind = static_cast<LineKind>(line.size() % 5);
    reading.line.quad_px = {{{0, byte}, {byte, byte}, {byte, byte + 9}, {0, byte + 9}}};
    if (tab != std::string::npos) reading.alternatives = {{line.substr(tab + 1), reading.confidence / 2}};
    annotations.back().text += (annotations.back().text.empty() ? "" : "\n") + reading.text;
    annotations.back().lines.push_back(std::move(reading));
  }
  std::vector<Interpretation> alone;
  std::vector<interpretation::TinMember> members;
  for (const Annotation& annotation : annotations) {
    auto facts = interpretation::interpret(annotation, {}, nullptr, {});
    if (!facts) std::abort();
    alone.push_back(*facts);
  }
  for (std::size_t i = 0; i < annotations.size(); ++i)
    members.push_back({"here", annotations[i], alone[i], i % 2 == 0 ? "1" : "2"});
  const auto together = interpretation::read_tin(members, {}, interpretation::heading_of(heading, "the heading", nullptr, {}));
  for (std::size_t i = 0; i < together.size(); ++i) {
    // A clear date is never changed.
    const auto& date = alone[i].date;
    if (date && date->value && date->confidence >= 0.95 && date->value->find_first_of("X[") == std::string::npos &&
        together[i].date != date)
      std::abort();
  }
  return 0;
}
