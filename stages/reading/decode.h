// From a lattice to texts.
#pragma once

#include <vector>

#include "stages/reading/candidate.h"
#include "stages/reading/language_model.h"
#include "stages/reading/lattice.h"

namespace papillote::reading {

// Where each class of a text lies in a lattice on its likeliest path (Viterbi alignment of CTC).
struct Placed {
  int first_frame = 0;
  int last_frame = 0;      // inclusive
  double confidence = 0;   // highest probability of the class within its frames
};
[[nodiscard]] std::vector<Placed> place(const Lattice& lattice, const std::vector<int>& classes);

// Prefix beam search (Graves 2012; Hannun et al. 2014): a text is worth log p_net + alpha log p_language + beta characters. Without a
// language model the likeliest text, which need not be the best path. The answer carries the next best texts and a calibrated confidence.
[[nodiscard]] Candidate decode(const Lattice& lattice, const LanguageModel* language);

}  // namespace papillote::reading
