// Tables that people write or loggers keep: what is read is written so that it reads the same.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "pipeline/bench/plan_settings.h"
#include "pipeline/record/climate.h"
#include "pipeline/record/containers.h"
#include "pipeline/record/csv.h"
#include "stages/triage/rules.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace papillote;
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  for (const CsvRow& row : kept_rows(text)) (void)csv_row(row.cells);
  (void)climate_from_table(text, "climate");
  if (const auto containers = containers_from_csv(text, "containers"); containers.ok()) {
    const std::string once = containers_csv(*containers);
    const auto again = containers_from_csv(once, "containers");
    if (!again.ok() || containers_csv(*again) != once) __builtin_trap();
  }
  if (const auto rules = triage::rules_from_csv(text, "rules"); rules.ok()) {
    const std::string once = triage::rules_csv(*rules);
    const auto again = triage::rules_from_csv(once, "rules");
    if (!again.ok() || triage::rules_csv(*again) != once) __builtin_trap();
  }
  (void)bench::settings_from_csv(text);
  return 0;
}
