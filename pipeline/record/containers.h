// The table of containers that a curator keeps: one row a tin.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"
#include "pipeline/record/storage.h"

namespace papillote {

// Words that a column of the table may hold beside an empty cell: "material" -> "tinplate", "cardboard" ...
struct ContainerColumn {
  std::string_view name;
  std::string Container::*member;
  std::vector<std::string_view> words;
};
[[nodiscard]] std::span<const ContainerColumn> container_columns();

// As a table to fill in: the words that may stand in each column above a row for each tin.
[[nodiscard]] std::string containers_csv(const std::vector<Container>& containers);

// Lines that begin with '#' are passed over. `name` is the file's. Failure "wrong_container" names the line: an unknown column,
// an unknown word, a band that is none, a tin twice.
[[nodiscard]] Result<std::vector<Container>> containers_from_csv(std::string_view csv, const std::string& name);

}  // namespace papillote
