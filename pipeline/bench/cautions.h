// What is said wherever work can hurt someone. The program shows cautions; it never clears anything as safe.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::bench {

struct Caution {
  std::string_view heading;
  std::string_view text;
};

[[nodiscard]] const Caution& residues_caution();         // legacy pesticides and mould: with everything that is handled
[[nodiscard]] const Caution& low_temperature_caution();  // with every mention of freezing
[[nodiscard]] const Caution& agents_caution();           // relaxing agents and solvents

// What a tin asks for beyond the general caution, from the kinds of finding in it and whether anything in it is to be isolated.
[[nodiscard]] std::vector<Caution> cautions_for(std::span<const std::string> finding_kinds, bool isolate);

// Published low-temperature practice, as information only.
struct ColdRegime {
  std::string_view temperature;
  std::string_view exposure;
  std::string_view source;
};
[[nodiscard]] std::span<const ColdRegime> cold_regimes();

}  // namespace papillote::bench
