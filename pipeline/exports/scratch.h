// Temporary files of an export that does not fit in memory or is made of several.
#pragma once

#include <filesystem>
#include <string>

namespace papillote::exports {

// A folder that goes when it does. Throws std::runtime_error where there is no room for it.
class Scratch {
 public:
  Scratch();
  ~Scratch();
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  [[nodiscard]] std::filesystem::path operator/(const char* name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

// Throws std::runtime_error where it cannot be written.
void save(const std::filesystem::path& file, const std::string& text);

}  // namespace papillote::exports
