// Labels that lie on a sheet and say which tin and sheet it is, in words and as a QR code.
#pragma once

#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/record/result.h"

namespace papillote::bench {

struct SheetLabel {
  std::string tin;
  std::string sheet;
  bool back = false;   // lies with the sheet when its envelopes are turned over
  std::string period;  // of the tin, in words; may be empty
};

// The text of the code: "tin=07;sheet=3" or "tin=07;sheet=3;side=back".
[[nodiscard]] std::string code_text(const SheetLabel& label);

// Many to a page. Failures: "not_a_name" for a tin or sheet that is empty or holds ; = or control characters,
// "nothing_to_print" for no label, "not_encodable" for names too long for a code.
[[nodiscard]] Result<std::string> sheet_labels_pdf(const std::vector<SheetLabel>& labels, const std::string& made);

}  // namespace papillote::bench
