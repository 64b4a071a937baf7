// Identity of envelopes across reruns.
//
// An id is minted once: ten characters from the photograph's digest and the middle of the outline, so that the same
// photographs give the same ids in whatever order they are worked on, and a check character (ISO 7064 MOD 37-36).
// When outlines change, they are matched to the ones known from the same photograph by overlap, best first; what is
// no longer found retires and is revived when it is found again; its id never goes to another envelope.
// A slip's catalogue number wins over position: its envelope has the id minted from the number, on every photograph
// that shows the slip, and the id from its outline is joined to that one for as long as the slip lies by it.
// What people confirmed to be the same (sameness.h) comes last, over both.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/record/index_record.h"
#include "pipeline/store/store.h"

namespace papillote::store {

// Ten characters of Crockford's alphabet and the check character, which is of that alphabet too.
[[nodiscard]] std::string mint_id(std::string_view seed);

// As typed by a person: small letters, blanks, hyphens, and I, L, O for 1, 1, 0. Nothing if the check character disagrees.
[[nodiscard]] std::optional<std::string> read_id(std::string_view typed);

// Intersection over union of the areas, even-odd rule, to about 0.5 %.
[[nodiscard]] double overlap(const Polygon& a, const Polygon& b);

// Outlines with at least this overlap may be the same envelope.
inline constexpr double kSameEnvelope = 0.3;

// Fills `id` of every record. Where one number lies by two envelopes of the photograph both lose it, keep their own
// ids and say so in `slip_doubt`. The caller holds a transaction.
void settle_identity(Store&, const Digest& photograph, std::vector<IndexRecord>& records);

// Makes what this photograph shows of the envelope `id` a view of what the photograph `front` shows as the envelope `other`, as its
// back; an empty `other` gives it back to the envelope of its own outline. Holds until it is changed or a slip says otherwise. The
// photograph's index is to be replaced next. The caller holds a transaction.
void count_as(Store&, const Digest& photograph, const std::string& id, const Digest& front, const std::string& other);

// The id an old or joined id now stands for; nothing when it was never minted.
[[nodiscard]] std::optional<std::string> current_id(Store&, const std::string& id);

// By catalogue number, as a scanner reads it; or as a person writes it, in small letters and with blanks and - . / _ anywhere.
[[nodiscard]] std::optional<std::string> id_of_catalogue_number(Store&, const std::string& number);
[[nodiscard]] std::string catalogue_number_of(Store&, const std::string& id);  // of a current id; empty without one

}  // namespace papillote::store
