// What the handwriting net says about one line before anything is decided: a probability for every character at every step
// along the line. Kept whole, so that questions can be asked of it later ("which valid date fits best here?").
//
// Connectionist temporal classification (Graves et al. 2006): class 0 is the blank, repeats merge, blanks drop.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "stages/reading/candidate.h"

namespace papillote::reading {

struct Lattice {
  int frames = 0;
  int classes = 0;                             // blank + characters
  std::vector<float> log_p;                    // frames x classes, natural logarithms
  std::shared_ptr<const std::u32string> characters;  // class k is characters[k - 1]

  [[nodiscard]] float at(int frame, int k) const {
    return log_p[static_cast<std::size_t>(frame) * static_cast<std::size_t>(classes) + static_cast<std::size_t>(k)];
  }
  [[nodiscard]] char32_t character(int k) const { return (*characters)[static_cast<std::size_t>(k) - 1]; }
};

// The best class of each frame, repeats merged, blanks dropped.
[[nodiscard]] Candidate best_path(const Lattice&);

[[nodiscard]] std::string utf8_of(std::u32string_view);
[[nodiscard]] std::u32string utf32_of(std::string_view);  // broken bytes become U+FFFD

}  // namespace papillote::reading
