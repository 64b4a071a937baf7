#include "pipeline/app/dataset.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <utility>

#include "pipeline/app/clock.h"

namespace papillote::app {

void add_about(CLI::App& command, std::string& about) {
  command.add_option("--about", about, "JSON file with title, licence, contact and codes of the collection (default: about.json in its folder).");
}

Result<exports::Dataset> dataset_of(const std::string& about, const std::string& collection) {
  const std::filesystem::path file = about.empty() ? std::filesystem::path(collection) / "about.json" : std::filesystem::path(about);
  std::ifstream in(file, std::ios::binary);
  exports::Dataset dataset;
  if (in || !about.empty()) {
    const std::string text{std::istreambuf_iterator<char>(in), {}};
    if (!in) return Failure{"app", "unreadable", fmt::format("{} cannot be read.", file.string()), "See that the file is there and that you may read it."};
    auto read = exports::read_dataset(text, file.string());
    if (!read.ok()) return read;
    dataset = std::move(read).value();
  }
  if (dataset.published.empty()) dataset.published = now_utc().substr(0, 10);
  return dataset;
}

}  // namespace papillote::app
