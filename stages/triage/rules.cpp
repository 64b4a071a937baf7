#include "stages/triage/rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "pipeline/record/csv.h"
#include "pipeline/record/verdict.h"

namespace papillote::triage {
namespace {

constexpr std::array<std::string_view, 7> kColumns{"about", "sign", "from", "level", "weight", "words", "why"};

constexpr std::string_view kHead =
    "# Rules of triage. The highest level that any rule gives is the envelope's; within it the heaviest rule decides, and "
    "every\r\n"
    "# further reason adds a tenth of its weight from what is left to 1. Levels: isolate, stabilise, valuable, routine. Weight: 0 (off) to 1.\r\n"
    "# A finding weighs its rule's weight x (0.4 + 0.15 x severity) x confidence. A line left out stays as printed.\r\n"
    "# Taxa and places to look out for are added as lines of your own, for example:\r\n"
    "# wanted_taxon,Ornithoptera,,valuable,0.8,wanted for the revision,asked for in 2026\r\n"
    "# wanted_place,Labuan,,valuable,0.8,from a forest that is gone,\r\n";

bool is_wanted(std::string_view about) { return about == "wanted_taxon" || about == "wanted_place"; }

}  // namespace

// The order of work (pests, then damp and mould, then loose or fragile, then stained, then sound) is common practice.
const Rules& printed_rules() {
  static const Rules rules{{
      {"finding", "frass", 1, "isolate", 1.0, "powder or pellets of a feeding insect: isolate the tin and look for life",
       "from: severity. Pests come first, for the whole tin (common practice); powder is their first sign (ENHG bulletin "
       "1982)"},
      {"finding", "webbing", 1, "isolate", 1.0, "webbing or cast skins: isolate the tin and look for life",
       "pests come first (common practice); cast skins: museum pests fact sheet; webbing: CCAHA"},
      {"finding", "mould", 1, "isolate", 0.9, "looks like mould: keep apart and dry, wear a mask",
       "after pests (common practice); nothing brings a mouldy specimen back (Schauff, USDA text)"},
      {"finding", "hole", 1, "isolate", 0.7, "hole as a feeding insect leaves it: look for powder before it goes back",
       "a hole may be a century old: after powder and skins (common practice)"},
      {"finding", "protruding", 1, "stabilise", 0.9, "a part sticks out of the paper and will break at the next touch",
       "loss is near (common practice)"},
      {"finding", "fragments", 1, "stabilise", 0.9, "loose parts: keep them with the envelope, do not shake",
       "parts get lost first (common practice)"},
      {"finding", "open_flap", 1, "stabilise", 0.8, "flap open or seam burst: the content can slide out", "common practice"},
      {"finding", "water_stain", 2, "stabilise", 0.7, "tide line of old damp: find out whether the tin is dry",
       "find the damp (common practice)"},
      {"finding", "tear", 2, "stabilise", 0.7, "paper torn: support it or put it into a sleeve", "common practice"},
      {"finding", "missing_corner", 2, "stabilise", 0.6, "part of the paper is gone: support it or put it into a sleeve",
       "common practice"},
      {"finding", "crushed", 3, "stabilise", 0.6, "crushed: the content may be broken",
       "creases alone are common (own proposal)"},
      {"finding", "broken_wings", 2, "stabilise", 0.5, "wings broken behind the glassine: keep the pieces in, do not shake",
       "pieces get lost at the next opening (common practice)"},
      {"finding", "rust", 2, "stabilise", 0.5, "rust of a pin or clip goes on eating the paper", "slow (common practice)"},
      {"finding", "faded", 3, "stabilise", 0.4, "writing is fading: copy it while it can be read", "slow (common practice)"},
      {"finding", "grease", 2, "stabilise", 0.3, "grease from the body: degrease if it is to be set",
       "can be planned (common practice)"},
      {"finding", "foxing", 3, "routine", 0.3, "foxing: brown spots, no haste if the tin is dry",
       "can be planned (common practice)"},
      {"finding", "tape", 2, "routine", 0.3, "adhesive tape: leave it to a conservator", "can be planned (common practice)"},
      {"finding", "no_body", 1, "routine", 0.3, "body missing: not worth relaxing, the wings may still serve",
       "can be planned (common practice)"},
      {"grown", "any", 1, "stabilise", 1.0, "grew since an earlier photograph",
       "what grows is alive or still going on (own proposal)"},
      {"value", "type", 0, "valuable", 1.0, "type material is handled first of all sound envelopes",
       "types cannot be replaced (common practice)"},
      {"value", "collected_before", 1900, "valuable", 0.5, "old material is seldom replaceable", "from: year; common practice"},
      {"value", "few_from_place", 1, "valuable", 0.4, "few from this place in the index",
       "from: at most so many envelopes; own proposal, low because a misreading is rare too"},
      {"value", "few_from_decade", 2, "valuable", 0.3, "few from this decade in the index",
       "from: at most so many envelopes; own proposal, low because a misreading is rare too"},
      {"value", "few_of_taxon", 1, "valuable", 0.4, "few of this taxon in the index",
       "from: at most so many envelopes; own proposal, low because a misreading is rare too"},
      {"storage", "mould_index", 3, "stabilise", 0.6, "climate of the tin",
       "from: mould index; 3 is growth seen by eye (Hukka & Viitanen 1999); below it the report shows the index"},
      {"storage", "outside_band", 0.25, "routine", 0.6, "climate of the tin", "from: share of the time logged; own proposal"},
      {"storage", "pest_days", 30, "routine", 0.5, "climate of the tin",
       "from: days; eggs of Anthrenus verbasci hatch in 54 d at 15 °C (Blake), own margin"},
      {"storage", "paper_ages", 1.5, "routine", 0.3, "climate of the tin",
       "from: how many times as fast as at 20 °C and 50 %; own proposal"},
      {"storage", "crystals", 1, "routine", 0.9, "keeping of the tin", "first for whoever opens it (safety)"},
      {"storage", "no_seal", 1, "routine", 0.6, "keeping of the tin", "pests come in (common practice)"},
      {"storage", "floor", 1, "routine", 0.6, "keeping of the tin", "common practice"},
      {"storage", "cellar", 1, "routine", 0.6, "keeping of the tin", "common practice"},
      {"storage", "outside_wall", 1, "routine", 0.5, "keeping of the tin", "common practice"},
      {"storage", "attic", 1, "routine", 0.5, "keeping of the tin", "common practice"},
      {"storage", "cigar_box", 1, "routine", 0.4, "keeping of the tin", "from memory"},
      {"storage", "tight_seal", 1, "routine", 0.3, "keeping of the tin", "Schauff, USDA text"},
      {"storage", "cork", 1, "routine", 0.3, "keeping of the tin", "common practice"},
      {"storage", "foam", 1, "routine", 0.3, "keeping of the tin", "common practice"},
      {"storage", "oak", 1, "routine", 0.3, "keeping of the tin", "common practice"},
      {"storage", "cardboard", 1, "routine", 0.2, "keeping of the tin", "common practice"},
      {"storage", "daylight", 1, "routine", 0.3, "keeping of the tin", "common practice"},
      {"fragile", "newsprint", 0, "routine", 0.4, "handle with care", "acid paper grows brittle (common practice)"},
      {"fragile", "glassine", 0, "routine", 0.3, "handle with care", "old glassine turns brittle (common practice)"},
      {"fragile", "bulging", 0, "routine", 0.4, "handle with care: lay nothing on it", "pressure breaks what bulges (common practice)"},
      {"fragile", "large", 0, "routine", 0.4, "handle with care", "large wings break first (common practice)"},
      {"doubt", "not_judged", 0, "routine", 0.8, "condition could not be judged: look at it before anything else is decided",
       "never taken for sound"},
      {"doubt", "partly_judged", 0, "routine", 0.5, "only part of it could be judged", "never taken for sound"},
      {"doubt", "nothing_read", 0, "routine", 0.2, "no annotation was read: the data may lie inside, do not guess",
       "common practice"},
      {"limit", "least_confidence", kSureFinding, "", 0, "", "findings below it are shown but move nobody up the list"},
      {"limit", "index_holds", 200, "", 0, "",
       "envelopes with a place, date or taxon in the index before few are called few; own proposal"},
  }};
  return rules;
}

const Rule* Rules::find(std::string_view about, std::string_view sign) const {
  const auto at =
      std::find_if(rows.begin(), rows.end(), [&](const Rule& rule) { return rule.about == about && rule.sign == sign; });
  return at == rows.end() ? nullptr : &*at;
}

double Rules::limit(std::string_view sign) const {
  const Rule* rule = find("limit", sign);
  return rule == nullptr ? 0 : rule->from;
}

std::string rules_csv(const Rules& rules) {
  std::string table(kHead);
  table += csv_row({kColumns.begin(), kColumns.end()});
  for (const Rule& rule : rules.rows) {
    const bool limit = rule.about == "limit";
    table += csv_row({rule.about, rule.sign, fmt::format("{:g}", rule.from), rule.level,
                      limit ? "" : fmt::format("{:g}", rule.weight), rule.words, rule.why});
  }
  return table;
}

Result<Rules> rules_from_csv(std::string_view csv, const std::string& name) {
  Rules rules = printed_rules();
  const std::vector<CsvRow> rows = kept_rows(csv);
  if (rows.empty()) return rules;
  const auto refused = [&](int line, const std::string& why, const std::string& remedy) {
    return Failure{"triage", "wrong_rules", fmt::format("{}, line {}: {}", name, line, why), remedy};
  };
  const std::vector<std::string>& head = rows.front().cells;
  for (const std::string& cell : head)
    if (!cell.empty() && std::find(kColumns.begin(), kColumns.end(), cell) == kColumns.end())
      return refused(rows.front().line, fmt::format("\"{}\" is no column of the rules.", cell),
                     "See 'papillote template rules'.");
  for (std::size_t k = 1; k < rows.size(); ++k) {
    const CsvRow& row = rows[k];
    if (row.cells.size() > head.size())
      return refused(row.line, "more cells than the head has columns.", "Put words that hold the separator between quotes.");
    const auto cell = [&](std::string_view column) {
      for (std::size_t c = 0; c < row.cells.size(); ++c)
        if (head[c] == column) return row.cells[c];
      return std::string();
    };
    const std::string about = cell("about"), sign = cell("sign");
    const bool wanted = is_wanted(about);
    if (wanted && sign.empty())
      return refused(row.line, "no name is given under \"sign\".", "Write the name of the taxon or place to look out for.");
    if (!wanted && printed_rules().find(about, sign) == nullptr)
      return refused(row.line, fmt::format("there is no rule about {} \"{}\".", about.empty() ? "nothing," : about, sign),
                     "Correct the line, or leave it out; 'papillote template rules' prints them all.");
    if (wanted && rules.find(about, sign) == nullptr) rules.rows.push_back({about, sign, 0, "valuable", 0.8, "wanted", ""});
    const auto at = std::find_if(rules.rows.begin(), rules.rows.end(),
                                 [&](const Rule& rule) { return rule.about == about && rule.sign == sign; });
    if (const std::string text = cell("from"); !text.empty()) {
      const auto value = number_in(text);
      if (!value || *value < 0)
        return refused(row.line, fmt::format("from \"{}\" is no number of 0 or more.", text),
                       "Correct it, or leave it empty to keep it as printed.");
      at->from = *value;
    }
    if (const std::string text = cell("weight"); !text.empty()) {
      const auto value = number_in(text);
      if (!value || *value < 0 || *value > 1)
        return refused(row.line, fmt::format("weight \"{}\" is not within 0 to 1.", text),
                       "Correct it, or leave it empty to keep it as printed.");
      at->weight = *value;
    }
    if (const std::string text = cell("level"); !text.empty()) {
      if (about == "limit" || !is_level(text))
        return refused(row.line, fmt::format("level \"{}\" is none.", text),
                       about == "limit" ? "A limit has no level." : "Write isolate, stabilise, valuable or routine.");
      at->level = text;
    }
    if (const std::string text = cell("words"); !text.empty()) at->words = text;
    if (const std::string text = cell("why"); !text.empty()) at->why = text;
  }
  return rules;
}

}  // namespace papillote::triage
