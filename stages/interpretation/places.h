// From the words of a locality to a place with a point and a radius, with doubt.
//
// Every run of words that the gazetteer knows is a mention with candidates. A candidate is weighed by its size,
// by how its name was written, by what stands around it (a road or a creek named after a town is not the town),
// and by whether it lies in the country, state or region that the text or the curator names: consistent chains
// win. What the gazetteer does not hold also has a weight, so a lone name that many places might have stays
// doubtful. Then the most particular believable mention is taken, offsets ("5 mi. N of ...") are applied, and the
// uncertainty follows by the point-radius method (point_radius.h).
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "pipeline/record/text.h"
#include "stages/interpretation/gazetteer.h"

namespace papillote::interpretation {

// One way a reader reads the same writing; confidences need not sum to one.
struct TextCandidate {
  std::string text;
  double confidence = 1;
};

// What is known besides the text; either may be empty.
struct PlaceHint {
  std::string country;  // ISO 3166-1 code or a country's name in any language
  std::string state;    // state or province
};

struct PlaceReading {
  Claim<Place> claim;     // verbatim is the text of the winning candidate; no value when left open
  std::size_t text = 0;   // which of the given texts won
  std::size_t begin = 0;  // bytes of it that name the place
  std::size_t end = 0;
};

// Below this confidence a place is left open. At it about one record in twenty gets a wrong place, with or without a
// country beside the text.
inline constexpr double kPlaceThreshold = 0.6;

PlaceReading read_place(std::span<const TextCandidate> texts, const Gazetteer& gazetteer, const PlaceHint& hint = {},
                        double threshold = kPlaceThreshold);

}  // namespace papillote::interpretation
