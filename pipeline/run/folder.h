// The photographs of a folder.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::run {

struct Folder {
  std::filesystem::path path;              // absolute
  std::vector<std::string> photographs;    // relative, '/' between parts, sorted bytewise
  std::vector<Failure> unreadable;         // subfolders without rights, names that are no UTF-8
  std::map<std::string, int> passed_over;  // other files by ending
};

// All .jpg .jpeg .png .tif .tiff and camera raw files below `folder` (a raw file only where no picture of its name lies beside it), without hidden ones, symbolic links to folders and what lies in
// `without` (the collection, which may lie inside). Failures: "no_folder", "unreadable", "no_photographs".
[[nodiscard]] Result<Folder> list_photographs(const std::filesystem::path& folder, const std::filesystem::path& without);

}  // namespace papillote::run
