#include "pipeline/bench/cautions.h"

#include <algorithm>
#include <array>

namespace papillote::bench {
namespace {

// Kinds of finding that speak of pests; a picture cannot tell live ones from those of a century ago.
constexpr std::array<std::string_view, 7> kPestKinds{"hole",      "frass", "webbing",       "cast_skin",
                                                     "live_pest", "pest",  "insect_remains"};

}  // namespace

const Caution& residues_caution() {
  static const Caution caution{
      "Old specimens and their tins may be poisonous",
      "They may hold arsenic, mercury, naphthalene, paradichlorobenzene, DDT or other pesticides, and mould. Assume they do "
      "until "
      "tested. Open the tin first and let the air out. Wear nitrile gloves, and a mask where there is dust or mould; do not "
      "shake or "
      "blow; keep food away; wash your hands. Keep apart whatever shows signs of pests or mould. Follow your institution's "
      "rules "
      "and local law, and a conservator's advice. Testing, fumigation and disposal are for trained or licensed people."};
  return caution;
}

const Caution& low_temperature_caution() {
  static const Caution caution{"Low temperature",
                               "Follow your institution's procedure and the freezer maker's instructions. Times shown are "
                               "published practice, not a guarantee. "
                               "Do not treat objects that are damp, painted or of unknown make-up without a conservator. Cold "
                               "metal and air burn: insulated "
                               "gloves."};
  return caution;
}

const Caution& agents_caution() {
  static const Caution caution{
      "Relaxing agents and solvents",
      "They can burn, catch fire or harm health. Read the safety data sheet, ventilate, wear gloves, and follow local rules on "
      "storage and waste. Photograph and read the envelope before relaxing: ink can run."};
  return caution;
}

std::vector<Caution> cautions_for(std::span<const std::string> finding_kinds, bool isolate) {
  const auto has = [&](std::string_view kind) {
    return std::find(finding_kinds.begin(), finding_kinds.end(), kind) != finding_kinds.end();
  };
  std::vector<Caution> cautions;
  if (has("mould"))
    cautions.push_back(
        {"Signs of mould",
         "HEPA respirator of class FFP3 or N100 and gloves; no dry brushing in the open; anyone allergic or with weak "
         "immunity keeps away."});
  if (isolate || std::any_of(kPestKinds.begin(), kPestKinds.end(), has))
    cautions.push_back(
        {"Signs of pests",
         "Isolate and look: bag the tin, and hold everything that shared its air as suspect. A picture cannot prove "
         "life; cast skins and powder may be a century old."});
  return cautions;
}

std::span<const ColdRegime> cold_regimes() {
  static const std::array<ColdRegime, 4> regimes{
      {{"−18 °C", "14 days", "South East Museums freezer guidance (Kent)"},
       {"−20 °C", "6–10 days, or two cycles of 48 h", "US National Park Service, Conserve O Gram 3/6, 1994"},
       {"−25 °C", "7 days", "South East Museums freezer guidance (Kent)"},
       {"−30 °C", "3 days", "South East Museums freezer guidance (Kent)"}}};
  return regimes;
}

}  // namespace papillote::bench
