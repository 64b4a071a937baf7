// Photographs of a few bytes for the tests of the batch, whose stages are made up.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>

#include "pipeline/run/step.h"
#include "tests/store/collection.h"

namespace papillote::run {

inline void write_file(const std::filesystem::path& file, const std::string& bytes) {
  std::filesystem::create_directories(file.parent_path());
  std::ofstream(file, std::ios::binary) << bytes;
}

inline std::string text_of(std::span<const std::byte> bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

}  // namespace papillote::run
