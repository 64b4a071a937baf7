#include "pipeline/bench/numbers.h"

#include <fmt/format.h>

#include <charconv>
#include <optional>

namespace papillote::bench {
namespace {

std::optional<int> number_in(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  int number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc{} || end != text.data() + text.size() || number < 0) return std::nullopt;
  return number;
}

}  // namespace

Result<std::vector<int>> numbers_in(std::string_view text, std::size_t most) {
  const auto refused = [&](std::string_view why) {
    return Failure{"bench", "not_numbers", fmt::format("\"{}\" is no list of numbers: {}.", text, why),
                   "Write numbers and ranges with commas between them, as in 1-12,14."};
  };
  std::vector<int> numbers;
  for (std::string_view rest = text;;) {
    const std::size_t comma = rest.find(',');
    const std::string_view part = rest.substr(0, comma);
    const std::size_t dash = part.find('-');
    const auto first = number_in(part.substr(0, dash));
    const auto last = dash == std::string_view::npos ? first : number_in(part.substr(dash + 1));
    if (!first || !last) return refused(fmt::format("\"{}\" is neither a number nor a range", part));
    if (*last < *first) return refused(fmt::format("{} runs backwards", part));
    if (static_cast<std::size_t>(*last - *first) >= most || numbers.size() + static_cast<std::size_t>(*last - *first) >= most)
      return refused(fmt::format("that is more than {}", most));
    for (int number = *first; number <= *last; ++number) numbers.push_back(number);
    if (comma == std::string_view::npos) return numbers;
    rest.remove_prefix(comma + 1);
  }
}

}  // namespace papillote::bench
