// Envelopes in the terms of Darwin Core, their pictures in those of Audiovisual Core.
//
// Sources: Darwin Core list of terms and Audiovisual Core term list (TDWG, 2026); Darwin Core text guide (TDWG, 2023).
// One envelope is one occurrence, however many photographs show it. What is written stands beside what it was taken to
// mean; what a machine read or concluded is called so, with its confidence, until a person has settled it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "pipeline/exports/exporter.h"

namespace papillote::exports {

inline constexpr std::string_view kOccurrenceRow = "http://rs.tdwg.org/dwc/terms/Occurrence";
inline constexpr std::string_view kMediaRow = "http://rs.tdwg.org/ac/terms/Multimedia";

struct Column {
  std::string_view name;  // heading
  std::string_view term;  // URI
};
[[nodiscard]] const std::vector<Column>& occurrence_columns();  // the first is the identifier
[[nodiscard]] const std::vector<Column>& media_columns();       // the first is the occurrence's identifier

// An envelope as one photograph shows it; a person's decisions applied.
struct View {
  Photo photo;
  Sheet sheet;
  IndexRecord record;
};

// Hands the views of every envelope to `take`, in the order of their paths; few are in memory at a time.
void for_each_occurrence(const Rows&, const std::function<void(const std::vector<View>&)>& take);

// Cells in the order of the columns. `views` are all of one envelope, in the order of their paths.
[[nodiscard]] std::vector<std::string> occurrence(const Dataset&, const std::vector<View>& views);
// Two rows a view: the photograph, and the envelope as a region of it.
[[nodiscard]] std::vector<std::vector<std::string>> media(const Dataset&, const View&);

// A date in EDTF as ISO 8601-1: "1906-06-XX" is "1906-06", "190X" is "1900/1909". Empty where that form cannot say it:
// seasons, choices, open ends, approximate dates. A question mark is dropped; the verbatim date stands beside it.
[[nodiscard]] std::string iso_of_edtf(std::string_view edtf);

// Made from the institution's and the collection's code and the envelope's identity.
[[nodiscard]] std::string occurrence_id(const Dataset&, const std::string& envelope);

}  // namespace papillote::exports
