// The files of page/, which the build puts into the program.
#pragma once

#include <string_view>
#include <vector>

namespace papillote::review {

struct PageFile {
  std::string_view name;  // "index.html", "views/find.js"
  std::string_view content;
};
[[nodiscard]] const std::vector<PageFile>& page_files();

}  // namespace papillote::review
