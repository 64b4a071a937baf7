// What a hand scanner types, or a photograph of codes shows: an envelope, or the place where things go.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "pipeline/record/result.h"
#include "pipeline/store/store.h"

namespace papillote::bench {

struct ScannedEnvelope {
  std::string id;
  std::string catalogue_number;  // empty without a slip
};

// By catalogue number or by identity, as scanned or typed. Failures, which repeat the text so that it can do no harm on a
// terminal: "no_code" for what is none, "misread" when its check character disagrees, "unknown_envelope".
[[nodiscard]] Result<ScannedEnvelope> scanned_envelope(store::Store&, std::string_view text);

// The text of a place's code, "place=drawer 12, tray 3", as tray labels carry it.
[[nodiscard]] std::string place_code(std::string_view place);
// The place that a code names; nothing for any other text.
[[nodiscard]] std::optional<std::string> scanned_place(std::string_view text);

// Failure "unclear_words" for words that hold control characters, turn the direction of text, or are longer than 200 bytes;
// `what` names them: "place".
[[nodiscard]] Result<Done> plain_words(std::string_view words, std::string_view what);

}  // namespace papillote::bench
