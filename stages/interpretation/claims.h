// Private to this room: claims of one annotation, each from its best text or the reader's other texts.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "pipeline/record/text.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/tin.h"

namespace papillote::interpretation {

inline constexpr double kClear = 0.9;  // a claim this sure is evidence for others and is never changed
inline constexpr double kClearDate = 0.975;  // of dates, which are given from 0.93 on

// First and last year of a value that states its year in full.
[[nodiscard]] std::optional<Years> full_years(const std::string& edtf);

// How well years fit among the clear dates of a tin.
struct ClearYears {
  std::vector<int> of_sheet, of_tin;

  // 1 where nothing speaks for one year before another. `year`: nothing = not stated in full.
  [[nodiscard]] double weight(std::optional<int> year) const;
};

[[nodiscard]] std::optional<Claim<std::string>> date_claim(const Annotation&, const DateContext&, const ClearYears&);

}  // namespace papillote::interpretation
