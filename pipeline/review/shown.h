// Records as the page shows them: lines, regions and evidence carried into the pixels of the cut-out, places of characters counted
// as the page counts them (UTF-16).
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "pipeline/store/decisions.h"
#include "pipeline/store/index.h"
#include "pipeline/store/search.h"

namespace papillote::review {

[[nodiscard]] nlohmann::json shown(const store::Hit&);
// `raw` is as the machine has it; decisions are applied here.
[[nodiscard]] nlohmann::json shown(const store::EnvelopeView& raw, const std::vector<store::Decision>& decisions);
[[nodiscard]] nlohmann::json shown(const store::Decision&);

// A value of a term in a few words: "1897-05", "Simla, IN", "31.100, 77.170".
[[nodiscard]] std::string words_of_value(const std::string& term, const nlohmann::json& value);

// The terms of an interpretation in the order of the page.
[[nodiscard]] const std::vector<std::string>& terms();
// Whether a person may settle it: the text, the priority, a kind of finding, or one of terms().
[[nodiscard]] bool is_term(const std::string& term);
[[nodiscard]] nlohmann::json value_of(const IndexRecord&, const std::string& term);  // null = none or open

// Why this is no value for the term, in a sentence; empty = it is one.
[[nodiscard]] std::string fault_of(const std::string& term, const nlohmann::json& value);

// UTF-16 units before byte `at` of a UTF-8 text.
[[nodiscard]] int units_before(const std::string& text, int at);

}  // namespace papillote::review
