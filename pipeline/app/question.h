// The filters that search, pick lists and maps share: what is typed -> what the store is asked.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "pipeline/record/result.h"
#include "pipeline/store/search.h"

namespace papillote::app {

struct Asked {
  std::vector<std::string> words;
  std::string place;
  std::string near;  // "46.1,6.7" or the name of a place
  double km = 25;
  std::string period;  // EDTF: "1895/1904", "1932-07"
  std::optional<std::string> tin;
  std::string taxon;
  std::string priority;
  std::string finding;
  int severity = 1;
  bool exact = false;
  bool place_open = false;
};

void add_filters(CLI::App&, Asked&);

// Failures: "wrong_period", "unknown_place", and those of opening the gazetteer when `near` names a place.
[[nodiscard]] Result<store::Question> question_of(const Asked&, const std::string& collection);

// The question in words, for the head of a print.
[[nodiscard]] std::string words_of(const Asked&);

}  // namespace papillote::app
