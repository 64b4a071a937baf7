// Texts that make sense as a whole, and the question a lattice can be asked: which of them fits best here?
//
// A grammar is a finite set of rules without recursion, kept as the automaton of its character positions (Glushkov 1961): which
// positions may come first, last, and after one another.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "stages/reading/lattice.h"

namespace papillote::reading {

class Grammar {
 public:
  [[nodiscard]] static Grammar text(std::u32string_view);
  [[nodiscard]] static Grammar one_of(std::u32string_view characters);
  [[nodiscard]] static Grammar any(const std::vector<Grammar>& choices);
  [[nodiscard]] static Grammar sequence(const std::vector<Grammar>& parts);
  [[nodiscard]] static Grammar optional(const Grammar&);
  // A long list of words, as a tree of their beginnings.
  [[nodiscard]] static Grammar words(const std::vector<std::u32string>&);

  [[nodiscard]] const std::vector<int>& first() const { return first_; }
  [[nodiscard]] const std::vector<int>& after(int position) const { return after_[static_cast<std::size_t>(position)]; }
  [[nodiscard]] char32_t character(int position) const { return characters_[static_cast<std::size_t>(position)]; }
  [[nodiscard]] bool may_end(int position) const { return last_[static_cast<std::size_t>(position)]; }
  [[nodiscard]] int positions() const { return static_cast<int>(characters_.size()); }

 private:
  int add(char32_t);
  int append(const Grammar&);  // its positions after ours; answers by how much they moved

  std::vector<char32_t> characters_;
  std::vector<std::vector<int>> after_;
  std::vector<bool> last_;
  std::vector<int> first_;
  bool empty_too_ = false;
};

// Days, months (roman, arabic, names and abbreviations in seven languages) and years of 1700 to 2099.
[[nodiscard]] Grammar date_grammar();
// Heights in metres and feet.
[[nodiscard]] Grammar elevation_grammar();

struct Fit {
  std::string text;
  double log_odds = 0;   // against the likeliest path over the same frames; 0 = the net reads the same, never positive
  int first_frame = 0;
  int last_frame = 0;    // inclusive
};

// The texts of the grammar that fit best somewhere in the line, between word boundaries, best first. Token passing (Young et al.
// 1989) with a Viterbi path; a longer text is preferred to a shorter one that fits as well. Texts worse than e^-12 are left out.
[[nodiscard]] std::vector<Fit> best_under(const Lattice& lattice, const Grammar& grammar, std::size_t most = 3);

// `text` (read from the same lattice) with what stands on the frames of `fit` replaced by it.
[[nodiscard]] std::string spliced(const Lattice& lattice, const std::string& text, const Fit& fit);

}  // namespace papillote::reading
