// Names of months and seasons as they stand on annotations.
#pragma once

#include <optional>
#include <string_view>

namespace papillote::interpretation {

// Month 1 to 12 of a folded word (see `fold`): a name or abbreviation of any language of the table, a beginning of
// a name of at least three letters that only one month has, or an old short form ("7bre", "xbre", "octbr").
// Names come from the CLDR through ICU; Latin, which the CLDR lacks, and old short forms from short tables.
[[nodiscard]] std::optional<int> month_named(std::string_view folded);

// Is the word a whole name rather than a beginning or an abbreviation?
[[nodiscard]] bool is_whole_month_name(std::string_view folded);

// The month whose whole name is one letter away (changed, missing or too much), where only one is: "angust" -> 8.
[[nodiscard]] std::optional<int> month_like(std::string_view folded);

// Season 21 (spring) to 24 (winter), EDTF.
[[nodiscard]] std::optional<int> season_named(std::string_view folded);

// The season whose name of five letters and more is one letter away, where only one is: "frohjahr" -> 21.
[[nodiscard]] std::optional<int> season_like(std::string_view folded);

// Roman month 1 to 12 of folded letters; larger numerals give their number, so that "XIII" is seen as impossible.
[[nodiscard]] std::optional<int> roman_numeral(std::string_view folded);

}  // namespace papillote::interpretation
