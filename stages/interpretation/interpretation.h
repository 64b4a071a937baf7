// Interpretation: what the annotation of one envelope says, as claims that never go beyond the paper.
#pragma once

#include <optional>
#include <string>
#include <utility>

#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"

namespace papillote::interpretation {

class Gazetteer;

inline constexpr Stage stage{"interpretation", 11};

struct Options {
  std::string period;   // years of the tin, "1895/1904"; the sheet label's period comes first
  std::string country;  // ISO 3166-1 alpha-2, where the whole collection is from one country

  template <class Self, class Say>
  static void describe(Self& o, Say&& say) {
    say("period", o.period, About{"years", "Known period of the tins, such as 1895/1904: settles years of two digits.", 0, 0});
    say("country", o.country, About{"", "Country of the whole collection (ISO 3166-1 code): narrows places.", 0, 0});
  }
};

// What is known about the tin besides the envelope itself.
struct TinContext {
  std::optional<std::pair<int, int>> period;  // first and last year
};

// `gazetteer` may be null: places are then left open, with the reason.
[[nodiscard]] Result<Interpretation> interpret(const Annotation&, const TinContext&, const Gazetteer* gazetteer,
                                               const Options&);

}  // namespace papillote::interpretation
