// Values by their rank among others.
#pragma once

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace papillote {

// The value that a share of them (0 to 1) lies below. Of none there is no such value: it must not be asked for.
template <class T>
[[nodiscard]] T quantile(std::vector<T> values, double share) {
  const auto rank = std::min(values.size() - 1, static_cast<std::size_t>(share * static_cast<double>(values.size())));
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(rank);
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

// The middle one, of an even number the upper.
template <class T>
[[nodiscard]] T median(std::vector<T> values) {
  return quantile(std::move(values), 0.5);
}

}  // namespace papillote
