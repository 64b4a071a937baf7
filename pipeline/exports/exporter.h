// An export format: one file in formats/ each, which defines `const Exporter <file name>`.
#pragma once

#include <functional>
#include <iosfwd>
#include <string_view>
#include <vector>

#include "pipeline/store/decisions.h"
#include "pipeline/store/index.h"

namespace papillote::exports {

// Hands every photograph to `take`, by path, with people's decisions applied; one is in memory at a time.
using Rows = std::function<void(const std::function<void(const store::IndexedPhotograph&)>& take)>;

struct Exporter {
  std::string_view name;   // as typed: "csv"
  std::string_view title;  // one sentence
  void (*write)(const Rows&, std::ostream&);
};

// Rows of a store.
[[nodiscard]] Rows rows_of(store::Store&);

namespace formats {
const std::vector<const Exporter*>& all();
}

}  // namespace papillote::exports
