// An export format: one file in formats/ each, which defines `const Exporter <file name>`.
#pragma once

#include <functional>
#include <iosfwd>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/store/decisions.h"
#include "pipeline/store/index.h"

namespace papillote::exports {

// Hands every photograph to `take`, by path, with people's decisions applied; one is in memory at a time.
using Rows = std::function<void(const std::function<void(const store::IndexedPhotograph&)>& take)>;

// What the collection says of itself to the outside; empty where it does not.
struct Dataset {
  std::string title;
  std::string description;
  std::string organisation;
  std::string contact_given_name;
  std::string contact_surname;
  std::string contact_email;
  std::string licence;           // of data and pictures, as a URI
  std::string institution_code;  // with the collection code part of every identifier: settle both before publishing
  std::string collection_code;
  std::string language = "en";   // of the annotations' metadata, ISO 639-1
  std::string published;         // year, or day as 2026-05-01, on which this is handed out
  std::string media_uri;         // where the photographs can be had; their paths are put behind it
};

// From a JSON object with the members above, as texts. Failure "wrong_dataset" names `name` and the member.
[[nodiscard]] Result<Dataset> read_dataset(std::string_view json, const std::string& name);

struct Exporter {
  std::string_view name;   // as typed: "csv"
  std::string_view title;  // one sentence
  // Failure "unwritable" where temporary files cannot be written; a stream that fails is left to the caller.
  Result<Done> (*write)(const Rows&, const Dataset&, std::ostream&);
};

// Rows of a store.
[[nodiscard]] Rows rows_of(store::Store&);

namespace formats {
const std::vector<const Exporter*>& all();
}

}  // namespace papillote::exports
