// ZIP archives, by libzip: the same files give the same bytes.
#pragma once

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

namespace papillote::exports {

// Files by their name in the archive, read from where they lie. Throws std::runtime_error where the archive cannot be
// written.
void write_zip(const std::filesystem::path& archive, const std::vector<std::pair<std::string, std::filesystem::path>>& files);

}  // namespace papillote::exports
