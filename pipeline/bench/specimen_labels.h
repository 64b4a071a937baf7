// Labels that stay with a specimen, on sheets of A4 at true size with cut marks: for the pin, for a new envelope, for a unit
// tray. Every code on them can be scanned by 'papillote move'.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "pipeline/bench/label_text.h"
#include "pipeline/bench/page.h"
#include "pipeline/record/result.h"

namespace papillote::bench {

struct LabelSheets {
  std::string pdf;                                         // empty when nothing fits
  std::vector<std::pair<std::string, std::string>> unfit;  // id and why it has no label, in a sentence
};

// A data label and a code label for each, side by side, 22 x 8 mm (source: Purdue 4-H guide: no larger than 7/8 x 5/16 in).
// Data in 5, 4.5 or 4 pt, the largest that fits, lines spaced by exactly the size of type (source: Mississippi Entomological
// Museum report 2016-01: 4 pt, five lines). Each kind of fact begins a line; where there are too many lines they run on. What
// does not fit even so gets two data labels, the first with the place (common practice); a word wider than a label is not fit.
// Failures: "nothing_to_print", "not_encodable".
[[nodiscard]] Result<LabelSheets> pin_labels(const std::vector<LabelText>& texts, const std::string& made);

// For new glassine or clear envelopes, 62 x 30 mm: data, the old annotation word for word, number and code.
[[nodiscard]] Result<LabelSheets> envelope_labels(const std::vector<LabelText>& texts, const std::string& made);

struct TrayLabel {
  std::string place;    // "drawer 12, tray 3": what its code names as the place
  std::string heading;  // what stands in it; may be empty
};
// 50 x 18 mm. Failures: "nothing_to_print", "not_encodable".
[[nodiscard]] Result<std::string> tray_labels_pdf(const std::vector<TrayLabel>& labels, const std::string& made);

// Lines of `width_mm` at `size_pt`, broken between words; `facts` begin a line each, or run on after ", " where `run_on`.
// Empty when a word is wider than a line.
[[nodiscard]] std::vector<std::string> set_lines(const Page& page, const std::vector<std::string>& facts, double width_mm,
                                                 double size_pt, bool run_on);

}  // namespace papillote::bench
