#include "pipeline/bench/save.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>
#include <system_error>
#include <vector>

namespace papillote::bench {
namespace {

constexpr std::string_view kBeside = ".XXXXXX";  // for mkstemp; a full stop stands before the name too

class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  [[nodiscard]] int number() const { return number_; }
  [[nodiscard]] bool open() const { return number_ >= 0; }

 private:
  int number_;
};

bool write_all(int descriptor, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return true;
}

Failure unwritable(const std::filesystem::path& file) {
  return {"bench", "unwritable", fmt::format("{} cannot be written: {}.", file.string(), std::strerror(errno)),
          "Name a file in a folder that exists, that you may write to and that has room."};
}

}  // namespace

Result<Done> save(const std::filesystem::path& file, std::string_view bytes) {
  const std::filesystem::path folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
  std::string beside = (folder / fmt::format(".{}{}", file.filename().string(), kBeside)).string();
  {
    const Descriptor out(::mkstemp(beside.data()));
    if (!out.open()) return unwritable(file);
    constexpr mode_t kReadableByAll = 0644;
    if (!write_all(out.number(), bytes) || ::fchmod(out.number(), kReadableByAll) != 0 || ::fsync(out.number()) != 0) {
      const Failure failure = unwritable(file);
      ::unlink(beside.c_str());
      return failure;
    }
  }
  if (std::rename(beside.c_str(), file.c_str()) != 0) {
    const Failure failure = unwritable(file);
    ::unlink(beside.c_str());
    return failure;
  }
  const Descriptor directory(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (directory.open()) ::fsync(directory.number());
  return Done{};
}

void sweep(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> left;
  std::error_code error;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder, error)) {
    const std::string name = entry.path().filename().string();
    if (!name.starts_with('.') || name.size() < kBeside.size() + 2 || name[name.size() - kBeside.size()] != '.') continue;
    if (std::filesystem::exists(entry.path().parent_path() / name.substr(1, name.size() - kBeside.size() - 1), error))
      left.push_back(entry.path());
  }
  for (const std::filesystem::path& file : left) std::filesystem::remove(file, error);
}

}  // namespace papillote::bench
