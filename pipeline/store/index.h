// The index: what search, exports and pick lists read, one photograph replaced at a time.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/record/index_record.h"
#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::store {

// Days since 1970-01-01, both included; an open end is kNoFirstDay or kNoLastDay.
struct DayRange {
  int first = 0;
  int last = 0;

  bool operator==(const DayRange&) const = default;
};
inline constexpr int kNoFirstDay = -4'000'000;  // exact as 32-bit floats, which the R*Tree keeps
inline constexpr int kNoLastDay = 4'000'000;

// What the line of stages says about one photograph. With a failure, `index` holds what was known before it.
struct Outcome {
  PhotoIndex index;
  std::vector<std::optional<DayRange>> days;  // of the dates, one per envelope; may be left empty
  std::optional<Failure> failure;
};

// Settles the identity of every envelope (see envelopes.h) and replaces all rows of the photograph. `path` stands in
// the index whatever the answers say: a renamed file keeps its answers. An outcome equal to the last one changes
// nothing. The caller holds a transaction.
void replace_index(Store&, std::int64_t photograph, const std::string& path, const Outcome&);

struct IndexedPhotograph {
  PhotoIndex index;  // ids filled, decisions not applied
  std::optional<Failure> failure;
  bool missing = false;
};

// All photographs by path; one is in memory at a time.
void for_each_photograph(Store&, const std::function<void(const IndexedPhotograph&)>& take);
[[nodiscard]] std::optional<IndexedPhotograph> find_photograph(Store&, const std::string& path);

// Tins (codes; "" = photographs without a sheet label) that hold photographs whose outcome is new since the tin was last
// gone through as a whole.
[[nodiscard]] std::vector<std::string> tins_to_go_through(Store&);

struct TinSheet {
  std::int64_t key = 0;  // of the photograph, for replace_index
  IndexedPhotograph photograph;
};
// Fronts before backs, each in the order of the sheets.
[[nodiscard]] std::vector<TinSheet> sheets_of_tin(Store&, const std::string& tin);
void keep_in_context(Store&, std::int64_t photograph);

// Which photographs lie in the index and what they say of themselves, by tin, sheet, side and time taken.
struct LabelledPhotograph {
  std::int64_t key = 0;
  std::string tin, sheet, side;
  std::string taken;  // ISO 8601, empty when not recorded
};
[[nodiscard]] std::vector<LabelledPhotograph> labelled_photographs(Store&);
[[nodiscard]] std::optional<IndexedPhotograph> photograph_at(Store&, std::int64_t key);

// Stands for all outcomes and decisions: equal as long as nothing in the index changed.
[[nodiscard]] Digest state_of_index(Store&);
// Stands for what the machine saw alone: equal as long as no photograph has another outcome, whatever people decided.
[[nodiscard]] Digest state_of_photographs(Store&);

// What one envelope says, all its views and decisions together, as search shows it.
struct Said {
  std::string place, country;
  bool placed = false;  // the place is on the map
  std::string date;     // EDTF, or the verbatim date when left open
  bool dated = false;
  std::string taxon;
};
void for_each_said(Store&, const std::function<void(const Said&)>& take);

// Every view of one envelope: front sides first, then by path.
struct EnvelopeView {
  Photo photo;
  Calibration calibration;
  IndexRecord record;
};
[[nodiscard]] std::vector<EnvelopeView> views_of(Store&, const std::string& envelope_id);
// Of all envelopes, the one that the collection has known longest first.
void for_each_view(Store&, const std::function<void(const EnvelopeView&)>& take);

}  // namespace papillote::store
