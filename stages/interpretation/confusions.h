// Private to this room: which letters the project's own reader takes for which (data/confusions.tsv).
#pragma once

#include <span>
#include <string_view>

namespace papillote::interpretation {

struct Confusion {
  std::string_view one, other;  // folded letters or digits
  double cost;                  // 0 always made, 1 a mistake like any other
};

[[nodiscard]] std::span<const Confusion> learnt_confusions();

}  // namespace papillote::interpretation
