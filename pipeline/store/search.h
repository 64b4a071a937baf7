// From a question to envelopes, one row each whatever the number of photographs that show it.
//
// Words are matched without regard to case and accents. A word also finds its near misses among the words that
// occur, so that an envelope misread by a letter or two is still found; exact hits come first.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/store/index.h"
#include "pipeline/store/store.h"

namespace papillote::store {

struct Near {
  double lat_deg = 0;
  double lon_deg = 0;
  double km = 0;
};

enum class Order {
  best,      // exact hits before near misses, else as indexed: the quick one
  shelf,     // tin, sheet, position
  priority,  // most urgent first
  date,
};

// All that is given must hold.
struct Question {
  std::string words;  // "simla 1897"; a word with '*' at its end is a beginning
  bool near_misses = true;
  std::string place;  // words of the place alone
  std::optional<Near> near;
  std::optional<DayRange> period;  // overlaps the date's days
  std::optional<std::string> tin;  // "" = without a tin
  std::string taxon;               // beginning of the name
  std::string level;               // priority level
  std::string finding;             // kind of damage
  int least_severity = 1;          // of `finding`
  bool place_open = false;         // a place is written but not resolved, or none
  std::optional<double> text_confidence_below;
  Order order = Order::best;
  int limit = 50;  // 0 = all
  int skip = 0;
};

struct Hit {
  std::string id;
  std::string catalogue_number;
  std::string tin, sheet, side;
  int position = 0;   // 1, 2, ... in reading order of the sheet
  std::string photo;  // path of the photograph that shows the writing best
  std::string text;
  std::string date;  // EDTF, or the verbatim date with '?' when left open
  std::string place, country;
  std::optional<double> lat_deg, lon_deg;
  std::string collector, taxon;
  std::string level;
  double score = 0;
  std::vector<std::string> findings;  // kinds
  double text_confidence = 0;
  bool exact = true;                 // false = found by a near miss
  std::vector<std::string> settled;  // terms a person decided
};

struct Answer {
  std::vector<Hit> hits;
  bool more = false;  // beyond this page
};

[[nodiscard]] Answer search(Store&, const Question&);

// How many there are, counted up to `most`.
[[nodiscard]] int count(Store&, const Question&, int most = 10'000);

// Keys of the envelopes that the question's words and words of the place answer, near misses too where asked; nothing else of
// the question is looked at. hit_at shows one of them.
[[nodiscard]] std::vector<std::int64_t> keys_with_words(Store&, const Question&);
[[nodiscard]] Hit hit_at(Store&, std::int64_t key, const Question&);
// These envelopes, each once, by tin, sheet and position; what is not in the index is left out.
[[nodiscard]] std::vector<Hit> hits_of(Store&, const std::vector<std::string>& ids);

// Words of the index within reach of `word`, nearest first.
[[nodiscard]] std::vector<std::string> near_words(Store&, const std::string& word, std::size_t most = 24);

}  // namespace papillote::store
