// What the index holds of a photograph: everything that search, pick lists and exports need.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "pipeline/record/envelope.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/portrait.h"
#include "pipeline/record/text.h"
#include "pipeline/record/verdict.h"

namespace papillote {

// The front that a back belongs to, where no slip says so.
struct OtherSide {
  double confidence = 0;
  std::string words;  // where that front lies, and how the sheet was turned

  bool operator==(const OtherSide&) const = default;
};

struct IndexRecord {
  std::string id;                // identity of the envelope; empty until the store has settled it
  std::string catalogue_number;  // from an identifier slip; empty without one
  std::string slip_doubt;        // why a slip near it was not taken, in words
  std::optional<OtherSide> other_side;
  EnvelopeOutline outline;       // crop turned so that the text stands upright
  Annotation annotation;
  Interpretation interpretation;
  // What the envelope says by itself, where `interpretation` owes something to the other envelopes of its tin.
  std::optional<Interpretation> alone;
  Condition condition;
  Triage triage;
  Portrait portrait;             // by which it is known again

  bool operator==(const IndexRecord&) const = default;
};

struct PhotoIndex {
  Photo photo;
  Calibration calibration;
  std::vector<IndexRecord> envelopes;

  bool operator==(const PhotoIndex&) const = default;
};

}  // namespace papillote
