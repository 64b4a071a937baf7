// What the desk needs of rooms that it does not know; the program passes it in.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/record/photo.h"
#include "pipeline/record/result.h"
#include "pipeline/record/text.h"
#include "pipeline/store/index.h"
#include "pipeline/store/search.h"
#include "pipeline/store/store.h"

namespace papillote::review {

// What a person typed for a term, understood.
struct Understood {
  std::string value;                  // JSON, as a decision holds it
  std::optional<store::DayRange> days;  // of a date
  std::vector<std::string> reasons;   // sentences
  std::vector<std::string> others;    // JSON of other values that may be meant, best first
};

// What a hand scanner typed: an envelope, or the place where what follows goes.
struct Scanned {
  std::string id;
  std::string catalogue_number;  // empty without a slip
  std::string place;             // not empty: a place and no envelope
};

// An envelope on one photograph, and where it lay there.
struct RefoundAt {
  std::string id;
  std::string photo;  // path
  Sheet sheet;        // empty without a label
  int position = 0;   // from 1
};

// Two that seem to be one envelope, photographed twice.
struct Refound {
  RefoundAt newer, earlier;
  double confidence = 0;
  std::vector<std::string> reasons;
};

struct Craft {
  std::function<std::string()> now;  // ISO 8601 instant
  // The bytes of a photograph's file, as long as it is the one that was processed.
  std::function<Result<std::string>(store::Store&, const Photo&)> file;
  // Failures: "not_understood", with what to write instead. The calibration says what the sheet label knows of the tin.
  std::function<Result<Understood>(const std::string& term, const std::string& typed, const Calibration&)> understand;
  // The days of a date as EDTF; failure "not_understood" when it is none.
  std::function<Result<std::optional<store::DayRange>>(const std::string& edtf)> days;
  // Places of this name, the most peopled first.
  std::function<std::vector<Place>(const std::string& name)> places;
  // Groups of equal or nearly equal texts: indices, groups of two and more.
  std::function<std::vector<std::vector<std::size_t>>(std::span<const std::string>)> alike;
  // Pairs that nobody settled, likeliest first. Of ten thousand envelopes it takes half a minute.
  std::function<std::vector<Refound>(store::Store&)> refound;
  // A sentence for a code that is misread, unknown or none.
  std::function<Result<Scanned>(store::Store&, const std::string& text)> scanned;
  // Why words cannot be kept with a movement; `what` names them: "place".
  std::function<Result<Done>(const std::string& words, const std::string& what)> plain;
  // The list to pick them by, as PDF; it opens each tin once.
  std::function<std::string(store::Store&, const std::vector<store::Hit>&, const std::string& who)> pick_list;
};

}  // namespace papillote::review
