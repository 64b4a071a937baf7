#include "pipeline/exports/scratch.h"

#include <stdlib.h>

#include <fstream>
#include <stdexcept>

namespace papillote::exports {

namespace fs = std::filesystem;

Scratch::Scratch() {
  std::string name = (fs::temp_directory_path() / "papillote-export-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr)
    throw std::runtime_error("there is no room for temporary files in " + fs::temp_directory_path().string());
  path_ = name;
}

Scratch::~Scratch() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

void save(const fs::path& file, const std::string& text) {
  std::ofstream out(file, std::ios::binary);
  out << text;
  if (!out.flush()) throw std::runtime_error(file.string() + " cannot be written");
}

}  // namespace papillote::exports
