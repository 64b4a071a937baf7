#include "pipeline/app/gazetteers.h"

#include <algorithm>
#include <system_error>
#include <vector>

#include <fmt/format.h>

namespace papillote::app {

namespace fs = std::filesystem;

fs::path additions_folder(const fs::path& collection) { return collection / "gazetteers"; }

Result<OpenGazetteers> open_gazetteers(const std::string& asked, const std::string& collection) {
  std::error_code ignored;
  std::vector<fs::path> files;
  if (!asked.empty()) {
    files.emplace_back(asked);
  } else {
    const fs::path beside = fs::read_symlink("/proc/self/exe", ignored).parent_path() / "gazetteer" / "places.bin";
    if (!fs::exists(beside, ignored)) return OpenGazetteers{};
    files.push_back(beside);
  }
  if (!collection.empty()) {
    std::vector<fs::path> added;
    for (const auto& entry : fs::directory_iterator(additions_folder(collection), ignored))
      if (entry.path().extension() == ".bin") added.push_back(entry.path());
    std::sort(added.begin(), added.end());
    files.insert(files.end(), added.begin(), added.end());
  }
  OpenGazetteers open;
  for (const fs::path& file : files) {
    // Files are replaced whole and never changed in place: size and time stand for the content.
    const auto size = fs::file_size(file, ignored);
    const auto time = fs::last_write_time(file, ignored).time_since_epoch().count();
    open.identity += fmt::format("{}:{}:{};", file.filename().string(), size, time);
  }
  auto gazetteer = interpretation::Gazetteer::open(files);
  if (!gazetteer.ok()) return gazetteer.failure();
  open.gazetteer.emplace(std::move(gazetteer).value());
  return open;
}

}  // namespace papillote::app
