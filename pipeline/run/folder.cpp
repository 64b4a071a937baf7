#include "pipeline/run/folder.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

namespace papillote::run {
namespace {

namespace fs = std::filesystem;

constexpr std::array<std::string_view, 5> kEndings{".jpg", ".jpeg", ".png", ".tif", ".tiff"};

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
  std::sort(found.photographs.begin(), found.photographs.end());
  if (found.photographs.empty()) {
    if (!found.unreadable.empty()) return found.unreadable.front();
    return Failure{"run", "no_photographs", fmt::format("There is no photograph in {}.", folder.string()),
                   "Photographs are .jpg, .jpeg, .png, .tif and .tiff files."};
  }
  return found;
}

}  // namespace papillote::run
