// Wings without a body between them, where glassine lets them be seen.
#include "stages/condition/marks.h"

namespace papillote::condition::detectors {
namespace {

std::vector<Sign> look(const View& view) {
  constexpr int kSevere = 3;  // most of what tells species apart under a lens went with the body
  std::vector<Sign> signs;
  for (const Mark& mark : marks_of(view, Damage::no_body, 2)) {
    Sign sign = sign_of(mark, 0.44, 0.61);
    sign.severity = kSevere;
    sign.words = "no body between the wings";
    signs.push_back(std::move(sign));
  }
  return signs;
}

}  // namespace

extern const Detector no_body{"no_body", 4, look};

}  // namespace papillote::condition::detectors
