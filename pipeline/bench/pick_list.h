// The pick list: what to take out of which tin, in an order that opens each tin once, on paper and as a table.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/bench/position.h"
#include "pipeline/record/index_record.h"
#include "pipeline/store/index.h"
#include "pipeline/store/search.h"

namespace papillote::bench {

struct PickEntry {
  std::string id;
  std::string catalogue_number;
  std::string tin;  // empty = not known
  std::string sheet;
  std::string side;
  std::string photo;
  Position position;
  std::string text;  // verbatim
  std::string date;  // interpreted, in words: "1932-07-14", "open: 14.7.32"
  std::string place;
  std::string taxon;
  Triage triage;
  std::vector<Finding> findings;
  std::string out;    // where it went when it is not in its tin, in words; empty = in its tin
  Picture thumbnail;  // may be empty
};

// What the search found, at the place where `seen` saw it. What a person settled is shown as settled, all else with its doubt.
[[nodiscard]] PickEntry pick_entry(const store::Hit& hit, const store::EnvelopeView& seen, const Position& position);

// Longest side of a thumbnail: 35 mm at 300 to the inch.
inline constexpr int kThumbnailPx = 420;

// By tin, sheet, photograph and position, numbers by value; unknown tins last.
void sort_for_picking(std::vector<PickEntry>& entries);

struct PickHead {
  std::string asked;  // what the list answers, in words
  std::string who;    // may be empty
  std::string made;   // ISO 8601 instant
};

// Both expect entries in picking order.
[[nodiscard]] std::string pick_list_pdf(const std::vector<PickEntry>& entries, const PickHead& head);
// RFC 4180, one header line; cells that a spreadsheet would take for a formula begin with an apostrophe.
[[nodiscard]] std::string pick_list_csv(const std::vector<PickEntry>& entries);

}  // namespace papillote::bench
