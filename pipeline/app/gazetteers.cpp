#include "pipeline/app/gazetteers.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace papillote::app {

namespace fs = std::filesystem;

namespace {

std::vector<fs::path> gazetteer_files(fs::path base, const fs::path& collection) {
  std::vector<fs::path> files{base.empty() ? gazetteer_folder() / "places.bin" : std::move(base)};
  if (collection.empty()) return files;
  std::vector<fs::path> additions;
  std::error_code error;
  for (auto entry = fs::directory_iterator(collection / "gazetteer", error); !error && entry != fs::directory_iterator();
       entry.increment(error))
    if (entry->path().extension() == ".bin") additions.push_back(entry->path());
  std::sort(additions.begin(), additions.end());
  files.insert(files.end(), additions.begin(), additions.end());
  return files;
}

}  // namespace

fs::path gazetteer_folder() {
  std::error_code error;
  const auto program = fs::read_symlink("/proc/self/exe", error);
  return program.parent_path() / "gazetteer";
}

Result<interpretation::Gazetteer> open_gazetteer(fs::path base, const fs::path& collection) {
  return interpretation::Gazetteer::open(gazetteer_files(std::move(base), collection));
}

std::string gazetteer_identity(const fs::path& base, const fs::path& collection) {
  std::string identity;
  for (const fs::path& file : gazetteer_files(base, collection)) {
    std::error_code error;
    const auto size = fs::file_size(file, error);
    if (error) return "";
    identity +=
        fmt::format("{} {} {};", file.filename().string(), size, fs::last_write_time(file, error).time_since_epoch().count());
  }
  return identity;
}

}  // namespace papillote::app
