// What a label says of a specimen, in the trade's order: country in capitals, locality, coordinates, elevation, date,
// collector (sources: Mississippi Entomological Museum report 2016-01, rev. 2021, and the MSB guide for the order; place of
// coordinates common practice; country in capitals, MSB guide; month in Roman figures, year in full, Purdue 4-H guide).
//
// What no person has settled stands in [ ], with ? where it is doubtful; what was left open stands as written, in quotes. A
// label stays with the insect for centuries: it must not claim what only a machine has read.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/index_record.h"

namespace papillote::bench {

struct LabelText {
  std::string id;
  std::string catalogue_number;  // empty without a slip
  std::string country;           // "FRANCE"
  std::string locality;
  std::string coordinates;
  std::string elevation;
  std::string date;  // "14.vii.1932"
  std::string collector;
  std::string taxon;
  std::string sex;
  std::string verbatim;  // the whole annotation as read
  std::string tin, sheet;

  // In the trade's order, empty ones left out, each beginning a new line where there is room for that.
  [[nodiscard]] std::vector<std::string> data() const;
  // What its code says: the catalogue number, otherwise the identity.
  [[nodiscard]] const std::string& code() const { return catalogue_number.empty() ? id : catalogue_number; }
};

[[nodiscard]] LabelText label_text(const IndexRecord& decided, const Sheet& sheet);

// "14.vii.1932", "vii.1932", "1932", "14.vii.1932–20.vii.1932"; nothing for what such a date cannot say.
[[nodiscard]] std::string collecting_date(std::string_view edtf);

}  // namespace papillote::bench
