// Corrections from a table: what a person changed in a spreadsheet, checked row by row before any of it is recorded.
//
// Columns, in any order, by their names in the first row: id or catalogue_number (or both), term, value; and where wanted who,
// note, was (the value that the correction rests on: refused where another stands now), country, latitude, longitude,
// uncertainty_m (for a place). "(none)" is said of what is not there, "(take back)" takes an earlier correction back.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"
#include "pipeline/store/decisions.h"

namespace papillote::app {

struct Correction {
  int line = 0;
  store::Decision decision;
  std::string now;  // the value that stands, as a cell; "(none)"
  std::string then;
  std::optional<std::string> was;
};

struct CorrectionTable {
  std::vector<Correction> corrections;
  std::vector<std::string> faults;  // "line 3: ...", one for each row that cannot be taken
};

// `who` is for rows that do not say. Failure "no_table" when the columns are not there.
[[nodiscard]] Result<CorrectionTable> read_corrections(store::Store&, std::string_view csv, const std::string& who,
                                                       const std::string& when);

// Of a term of a record, as a cell of such a table.
[[nodiscard]] std::string value_words(const IndexRecord&, const std::string& term);

// All or none; nothing when a value that a row rests on changed since. Failure "conflict" names the line.
[[nodiscard]] Result<Done> record_corrections(store::Store&, const std::vector<Correction>&);

}  // namespace papillote::app
