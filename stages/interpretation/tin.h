// The tin as context: what the envelopes of one tin say together about what one of them says doubtfully.
//
// One pass after all envelopes have been read, in the order in which they lie. A clear reading is never changed; every
// value that comes from the tin says so in its reasons.
//  - Years of two digits get the century of the clear dates of the tin or else of the sheet, where no period is known otherwise.
//  - Day and month in either order follow the order that the tin's own numeric dates prove, between points its roman months too.
//  - A place that one envelope leaves open is taken where the clear places of the tin speak for it.
//  - A doubtful year far outside all clear ones gives way to the reader's other reading inside them, or stays open.
//  - What one heading says for all ("Sarawak 1909-11" on the tin or on a slip in it) fills what an envelope leaves open, and
//    settles between readings it doubts. A slip is a heading by two years in full or by the word "all" before anything else,
//    where nothing on it is of one specimen. A lone one holds for the whole tin, of several each for what follows it.
//  - "do.", "idem", "same", ditto marks stand for what the envelope before says; "do. 14/8" takes its year from there too.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/record/text.h"
#include "stages/interpretation/interpretation.h"

namespace papillote::interpretation {

struct Years {
  int first = 0, last = 0;

  bool operator==(const Years&) const = default;
};

struct Heading {
  std::string where;  // for the reasons: "the heading of tin 07"
  std::string words;  // as written
  double confidence = 1;
  std::optional<Years> years;
  std::optional<Place> place;
  std::optional<std::string> collector;
};

// What a curator notes that stands on the tin; nothing where it says no years, place or collector. `gazetteer` may be null.
[[nodiscard]] std::optional<Heading> heading_of(const std::string& words, const std::string& where, const Gazetteer* gazetteer,
                                                const Options&);

struct TinMember {
  std::string where;  // for the reasons: "sheet 2, position 5"
  std::reference_wrapper<const Annotation> annotation;
  std::reference_wrapper<const Interpretation> alone;  // what the envelope says by itself
  std::string sheet{};                                 // envelopes of one sheet lay together in the tin
};

// One interpretation per member, equal to `alone` where the tin adds nothing. `heading`: of the tin itself; slips in it come
// first.
[[nodiscard]] std::vector<Interpretation> read_tin(std::span<const TinMember>, const TinContext& known,
                                                   const std::optional<Heading>& heading = {});

// Groups of members with equal or nearly equal annotation (a misread letter, another day), for correcting all at once:
// indices into `texts`, each group in order, groups of two and more only, in the order of their first member.
// Two texts are alike when they share at least `least` of their letter trigrams (Jaccard; digits count as one letter).
[[nodiscard]] std::vector<std::vector<std::size_t>> like_annotations(std::span<const std::string> texts, double least = 0.6);

}  // namespace papillote::interpretation
