#include "pipeline/app/gazetteers.h"

#include <algorithm>
#include <vector>

namespace papillote::app {

namespace fs = std::filesystem;

fs::path gazetteer_folder() {
  std::error_code error;
  const auto program = fs::read_symlink("/proc/self/exe", error);
  return program.parent_path() / "gazetteer";
}

Result<interpretation::Gazetteer> open_gazetteer(fs::path base, const fs::path& collection) {
  std::vector<fs::path> files{base.empty() ? gazetteer_folder() / "places.bin" : std::move(base)};
  if (!collection.empty()) {
    std::vector<fs::path> additions;
    std::error_code error;
    for (auto entry = fs::directory_iterator(collection / "gazetteer", error); !error && entry != fs::directory_iterator();
         entry.increment(error))
      if (entry->path().extension() == ".bin") additions.push_back(entry->path());
    std::sort(additions.begin(), additions.end());
    files.insert(files.end(), additions.begin(), additions.end());
  }
  return interpretation::Gazetteer::open(files);
}

}  // namespace papillote::app
