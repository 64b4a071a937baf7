// Runs the built program and keeps what it said; folders of small photographs to run it on.
#pragma once

#include <sys/types.h>

#include <filesystem>
#include <string>
#include <vector>

namespace papillote::cli {

struct Ended {
  int code = -1;  // exit code, or 128 + signal
  std::string out;
  std::string err;
};

[[nodiscard]] Ended run(const std::vector<std::string>& arguments, const std::string& standard_input = "");

// Starts it at the head of a process group of its own, which is what a terminal signals; `output` takes what it says on stdout. It goes
// when this program does.
[[nodiscard]] pid_t start(const std::vector<std::string>& arguments, const std::filesystem::path& output = "/dev/null");

// A folder of its own that goes when the test does.
class Scratch {
 public:
  Scratch();
  ~Scratch();
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  [[nodiscard]] std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

// Copies of up to `most` of the sample photographs at 1 / `shrink` of their size.
void small_photographs(const std::filesystem::path& folder, int most, int shrink);

void write_file(const std::filesystem::path& file, const std::string& bytes);
[[nodiscard]] std::string read_file(const std::filesystem::path& file);

}  // namespace papillote::cli
