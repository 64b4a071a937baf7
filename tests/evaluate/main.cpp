// papillote_evaluate TRUTH_DIR EXPORT.json: how much of the truth beside the sample photographs an export got right.
#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "tests/evaluate/scores.h"

namespace {

namespace fs = std::filesystem;

nlohmann::json read(const fs::path& file) {
  std::ifstream in(file);
  if (!in) throw std::runtime_error(file.string() + ": cannot be read; check the path");
  try {
    return nlohmann::json::parse(in);
  } catch (const nlohmann::json::exception& error) {
    throw std::runtime_error(file.string() + ": not JSON (" + error.what() + ")");
  }
}

int run(int argc, char** argv) {
  CLI::App app{"Compares `papillote export json` with the *.expected.json beside the photographs.\n"
               "Example: papillote_evaluate sample-images export.json"};
  fs::path truths;
  fs::path exported;
  bool each = false;
  app.add_option("truth", truths, "Folder with the photographs' *.expected.json.")->required();
  app.add_option("export", exported, "File written by papillote export json.")->required();
  app.add_flag("--each", each, "A table for each photograph, too.");
  CLI11_PARSE(app, argc, argv);

  const nlohmann::json answers = read(exported);
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(truths))
    if (entry.path().string().ends_with(".expected.json")) files.push_back(entry.path());
  if (files.empty()) throw std::runtime_error(truths.string() + ": holds no *.expected.json; name the folder of the sample photographs");
  std::sort(files.begin(), files.end());
  papillote::evaluation::Scores total;
  for (const fs::path& file : files) {
    const nlohmann::json expected = read(file);
    for (const auto& truth : expected["photographs"]) {
      nlohmann::json found;
      for (const auto& photograph : answers["photographs"]) {
        const bool same_bytes = truth.contains("sha256") && photograph.contains("sha256") && truth["sha256"] == photograph["sha256"];
        const bool same_name = fs::path(photograph["file"].get<std::string>()).filename() == truth["file"].get<std::string>();
        if (same_bytes || same_name) found = photograph;
      }
      total.add(truth, found);
      if (each) {
        papillote::evaluation::Scores one;
        one.add(truth, found);
        std::cout << "== " << truth["file"].get<std::string>() << "\n" << one.table() << "\n";
      }
    }
  }
  std::cout << total.table();
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    std::cerr << "papillote_evaluate: " << error.what() << "\n";
    return 1;
  }
}
