// Numbers that name a specimen or a lot: of the collector, of an accession.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

struct NumberReading {
  enum class Kind { unknown, collector, accession };

  std::string verbatim;               // with the word or sign before it
  std::size_t begin = 0, end = 0;     // bytes of the text; begin == end when none was found
  std::optional<std::string> number;  // "123", "1911-23", "V94-13"
  Kind kind = Kind::unknown;
  double confidence = 0;
  std::vector<std::string> reasons;
};

// Give it the text that dates, elevations and coordinates have not claimed: a bare code is known by its form alone.
[[nodiscard]] NumberReading read_number(std::string_view text);

}  // namespace papillote::interpretation
