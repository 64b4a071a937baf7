// Texts of printed codes and of files that people write by hand.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "pipeline/exports/archive_view.h"
#include "pipeline/exports/exporter.h"
#include "pipeline/record/check_character.h"
#include "stages/calibration/codes.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  (void)papillote::calibration::parse_sheet_label(text);
  (void)papillote::is_checked(text);
  (void)papillote::exports::read_dataset(text, "about.json");
  if (const auto list = papillote::exports::read_digest_lines(text, "list"); list.ok())
    if (papillote::exports::read_digest_lines(papillote::exports::digest_lines(*list), "list").value() != *list) __builtin_trap();
  (void)papillote::exports::iso_of_edtf(text);
  return 0;
}
