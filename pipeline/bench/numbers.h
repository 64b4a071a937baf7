// Lists of numbers as people type them: "1-12", "3,5,8-10".
#pragma once

#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::bench {

// In the order typed. Failure "not_numbers" for anything else, for a range that runs backwards and for more than `most`.
[[nodiscard]] Result<std::vector<int>> numbers_in(std::string_view text, std::size_t most = 10000);

}  // namespace papillote::bench
