// Which envelopes of a collection were photographed before: the same paper after it was moved, in another order, light and
// turn.
//
// Candidates share rare runs of three characters of their text, or their size. Each pair is then measured: the text as far as
// it was read alike, the marks on the paper laid on one another in the four turns and a little shifted, the lengths of the
// sides, the share that the outline fills, the colour of the paper. A logistic sum of the measures, fitted by
// scripts/train/refinding/fit.py on drawn envelopes that lay on two sheets, gives the odds of a pair by itself. An envelope is
// one other at most: against each rival its confidence falls by the rival's odds, so that ten envelopes of one series, all
// alike, are left in doubt.
#pragma once

#include <array>
#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/envelope.h"
#include "pipeline/record/portrait.h"

namespace papillote::registration {

// One envelope in one photograph.
struct Seen {
  std::size_t envelope = 0;      // the same for all views of one envelope
  std::string text;              // as read, without newsprint
  std::optional<Point> size_mm;  // nothing without a scale, or where the frame or another envelope hides part of it
  Portrait portrait;
};

// What was measured of a pair; nothing where one of the two does not allow it.
struct Likeness {
  std::optional<double> text;   // 1 = letter for letter, 0 = nothing in common
  std::optional<double> marks;  // correlation, -1..1
  std::optional<double> size;   // of the sides' lengths, natural logarithm of the worse ratio, 0 = equal
  std::optional<double> paper;  // difference of colour, CIE76
};

struct Refound {
  std::size_t earlier = 0, newer = 0;  // indices of what was seen
  double confidence = 0;               // that both are one envelope
  Likeness likeness;
};

[[nodiscard]] Likeness likeness_of(const Seen&, const Seen&);

// The chance that a pair of this likeness is one envelope, by itself.
[[nodiscard]] double chance_of(const Likeness&);

// Why, in words: "the text agrees to 94 %".
[[nodiscard]] std::vector<std::string> words_of(const Likeness&);

// `all` from the earliest seen to the latest; `thinkable` says of two indices, the earlier first, whether they may be one
// envelope at all. Every pair that is not hopeless, likeliest first, with its confidence; 10,000 envelopes take half a minute
// of one core at most.
[[nodiscard]] std::vector<Refound> compared(std::span<const Seen> all,
                                            const std::function<bool(std::size_t, std::size_t)>& thinkable);

// Of these the likeliest, each envelope once as the earlier and once as the newer.
[[nodiscard]] std::vector<Refound> one_to_one(std::span<const Seen> all, const std::vector<Refound>& pairs);

}  // namespace papillote::registration
