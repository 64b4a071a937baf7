// Rows of the shared tables beside the repository, for tests that hold against them.
#pragma once

#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <string>
#include <vector>

namespace papillote::interpretation::tables {

using Row = std::map<std::string, std::string>;

// Fields of one record; a quoted field may hold commas, doubled quotes and line ends.
inline bool next_record(std::istream& in, std::vector<std::string>& fields) {
  fields.assign(1, "");
  bool quoted = false, any = false;
  for (int c = in.get(); c != EOF; c = in.get()) {
    any = true;
    if (quoted) {
      if (c != '"') {
        fields.back() += static_cast<char>(c);
      } else if (in.peek() == '"') {
        fields.back() += static_cast<char>(in.get());
      } else {
        quoted = false;
      }
    } else if (c == '"') {
      quoted = true;
    } else if (c == ',') {
      fields.emplace_back();
    } else if (c == '\n') {
      return true;
    } else if (c != '\r') {
      fields.back() += static_cast<char>(c);
    }
  }
  return any;
}

// Empty, with one line on stdout, where the shared tables are not beside the repository.
inline std::vector<Row> read(const std::string& name) {
  const auto path = std::filesystem::path(PAPILLOTE_SOURCE_DIR).parent_path() / "shared" / name;
  std::ifstream in(path, std::ios::binary);
  std::vector<Row> rows;
  if (!in) {
    std::cout << "skipped: shared/" << name << " is not beside the repository\n";
    return rows;
  }
  std::vector<std::string> header, fields;
  next_record(in, header);
  while (next_record(in, fields)) {
    Row row;
    for (std::size_t i = 0; i < header.size() && i < fields.size(); ++i) row[header[i]] = fields[i];
    rows.push_back(std::move(row));
  }
  return rows;
}

// "a | b | " -> {"a", "b", ""}
inline std::vector<std::string> readings(const std::string& field) {
  std::vector<std::string> all;
  std::size_t begin = 0;
  while (true) {
    const auto bar = field.find('|', begin);
    std::string one = field.substr(begin, bar == std::string::npos ? bar : bar - begin);
    while (!one.empty() && one.front() == ' ') one.erase(0, 1);
    while (!one.empty() && one.back() == ' ') one.pop_back();
    all.push_back(one);
    if (bar == std::string::npos) return all;
    begin = bar + 1;
  }
}

}  // namespace papillote::interpretation::tables
