// papillote read-lines DIR: every picture of a single line in a folder -> CSV.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "models/library.h"
#include "pipeline/app/command.h"
#include "pipeline/image/image.h"
#include "stages/reading/reading.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Arguments {
  std::string folder;
  bool no_language_model = false;
};

void complain(const Failure& failure) { std::cerr << fmt::format("papillote: {} {}\n", failure.reason, failure.remedy); }

std::string quoted(const std::string& field) {
  if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
  std::string out = "\"";
  for (const char c : field) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

bool looks_like_picture(const fs::path& path) {
  std::string ending = path.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  static constexpr std::string_view kEndings[] = {".jpg", ".jpeg", ".png", ".tif", ".tiff"};
  return std::find(std::begin(kEndings), std::end(kEndings), ending) != std::end(kEndings);
}

Result<Reading> read_file(const fs::path& path, reading::Readers& readers, bool language_model) {
  std::ifstream file(path, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (!file.is_open() || file.bad())
    return Failure{"image", "unreadable", path.string() + ": cannot be read.", "Check the file's permissions."};
  const auto picture = image::decode(std::as_bytes(std::span(bytes)), path.string());
  if (!picture) return picture.failure();
  return reading::read_line(picture->bgr, readers, language_model);
}

ExitCode run(const Arguments& arguments) {
  std::error_code error;
  std::vector<fs::path> pictures;
  for (auto entry = fs::directory_iterator(arguments.folder, error); !error && entry != fs::directory_iterator(); entry.increment(error))
    if (entry->is_regular_file() && looks_like_picture(entry->path())) pictures.push_back(entry->path());
  if (error) {
    std::cerr << fmt::format("papillote: {}: the folder cannot be read ({}). Check its name and permissions.\n", arguments.folder,
                             error.message());
    return kCannotGoOn;
  }
  std::sort(pictures.begin(), pictures.end(), [](const fs::path& a, const fs::path& b) { return a.stem() < b.stem(); });
  auto readers = reading::Readers::open(models::models_folder(), {});
  if (!readers) {
    complain(readers.failure());
    return kCannotGoOn;
  }
  bool some_failed = false;
  std::cout << "name,text,confidence\n";
  for (const fs::path& path : pictures) {
    const auto line = read_file(path, *readers, !arguments.no_language_model);
    if (!line) {
      complain(line.failure());
      some_failed = true;
      continue;
    }
    std::cout << fmt::format("{},{},{:.4f}\n", quoted(path.stem().string()), quoted(line->text), line->confidence);
  }
  return some_failed ? kSomeFailed : kAllDone;
}

std::function<ExitCode()> setup(CLI::App& subcommand) {
  auto arguments = std::make_shared<Arguments>();
  subcommand.add_option("folder", arguments->folder, "Folder of pictures with one line of writing each.")->required();
  subcommand.add_flag("--no-language-model", arguments->no_language_model, "Read what is written, without expecting label text.");
  return [arguments] { return run(*arguments); };
}

}  // namespace

extern const Command read_lines;
const Command read_lines{"read-lines", "Care", "Read pictures that hold one line of writing each, as CSV.",
                         "Prints name,text,confidence for every JPEG, PNG and TIFF of the folder, sorted by name.\n"
                         "Example: papillote read-lines lines/ > lines.csv",
                         setup};

}  // namespace papillote::app::commands
