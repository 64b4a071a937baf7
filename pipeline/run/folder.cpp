#include "pipeline/run/folder.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <set>

namespace papillote::run {
namespace {

namespace fs = std::filesystem;

constexpr std::array<std::string_view, 15> kEndings{".jpg", ".jpeg", ".png", ".tif", ".tiff", ".dng", ".cr2", ".cr3",
                                                    ".nef", ".arw",  ".raf", ".orf", ".rw2",  ".pef", ".srw"};
constexpr std::size_t kFirstRaw = 5;

bool is_utf8(const std::string& text) {
  std::size_t i = 0;
  while (i < text.size()) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t more = c < 0x80 ? 0 : (c >> 5) == 6 ? 1 : (c >> 4) == 14 ? 2 : (c >> 3) == 30 ? 3 : 9;
    if (more == 9 || i + more >= text.size()) return false;
    for (std::size_t k = 1; k <= more; ++k)
      if ((static_cast<unsigned char>(text[i + k]) >> 6) != 2) return false;
    i += more + 1;
  }
  return true;
}

bool lies_in(const fs::path& path, const fs::path& folder) {
  const auto [end, ignored] = std::mismatch(folder.begin(), folder.end(), path.begin(), path.end());
  return !folder.empty() && end == folder.end();
}

void walk(const fs::path& folder, const fs::path& without, Folder& found) {
  std::error_code error;
  fs::directory_iterator entries(folder, error);
  if (error) {
    found.unreadable.push_back({"run", "unreadable",
                                fmt::format("The folder {} cannot be read: {}.", folder.string(), error.message()),
                                "See that you may read it."});
    return;
  }
  for (const fs::directory_entry& entry : entries) {
    const std::string name = entry.path().filename().string();
    if (name.starts_with('.') || lies_in(entry.path(), without)) continue;
    std::error_code ignored;
    if (entry.is_directory(ignored)) {
      if (!entry.is_symlink(ignored)) walk(entry.path(), without, found);
      continue;
    }
    std::string ending = entry.path().extension().string();
    std::transform(ending.begin(), ending.end(), ending.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    if (std::find(kEndings.begin(), kEndings.end(), ending) == kEndings.end()) {
      ++found.passed_over[ending];
      continue;
    }
    const std::string path = fs::relative(entry.path(), found.path, ignored).generic_string();
    if (!is_utf8(path)) {
      found.unreadable.push_back(
          {"run", "unreadable", fmt::format("A file in {} has a name that is not UTF-8.", folder.string()), "Rename it."});
      continue;
    }
    found.photographs.push_back(path);
  }
}

// A camera that writes both kinds shows each sheet twice: the raw file steps back behind the picture of the same name.
void leave_out_raw_twins(Folder& found) {
  const auto stem = [](const std::string& path) { return path.substr(0, path.rfind('.')); };
  const auto is_raw = [](const std::string& path) {
    std::string ending = path.substr(path.rfind('.'));
    for (char& c : ending) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return std::find(kEndings.begin() + kFirstRaw, kEndings.end(), ending) != kEndings.end();
  };
  std::set<std::string> pictures;
  for (const std::string& path : found.photographs)
    if (!is_raw(path)) pictures.insert(stem(path));
  std::erase_if(found.photographs, [&](const std::string& path) {
    const bool twin = is_raw(path) && pictures.contains(stem(path));
    if (twin) ++found.passed_over[path.substr(path.rfind('.'))];
    return twin;
  });
}

}  // namespace

Result<Folder> list_photographs(const fs::path& folder, const fs::path& without) {
  std::error_code error;
  if (!fs::is_directory(folder, error))
    return Failure{"run", "no_folder", fmt::format("There is no folder {}.", folder.string()),
                   "Name the folder that holds the photographs."};
  Folder found;
  found.path = fs::canonical(folder, error);
  if (error)
    return Failure{"run", "unreadable", fmt::format("The folder {} cannot be read: {}.", folder.string(), error.message()),
                   "See that you may read it."};
  const fs::path collection = without.empty() ? fs::path() : fs::weakly_canonical(without, error);
  walk(found.path, collection == found.path ? fs::path() : collection, found);
  leave_out_raw_twins(found);
  std::sort(found.photographs.begin(), found.photographs.end());
  if (found.photographs.empty()) {
    if (!found.unreadable.empty()) return found.unreadable.front();
    return Failure{"run", "no_photographs", fmt::format("There is no photograph in {}.", folder.string()),
                   "Photographs are .jpg, .jpeg, .png, .tif, .tiff and camera raw files."};
  }
  return found;
}

}  // namespace papillote::run
