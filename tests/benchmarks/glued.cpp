// What somebody gets by gluing general tools: threshold, outer contours, bounding boxes cut out, the tesseract program on
// each cut-out, a pattern for dates. Prints the form of `papillote export json`, so that papillote_evaluate measures both.
#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <regex>
#include <sstream>
#include <tuple>
#include <vector>

#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

extern char** environ;

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

json box_of(const cv::Rect& r) {
  return json::array({json::array({r.x, r.y}), json::array({r.x + r.width, r.y}), json::array({r.x + r.width, r.y + r.height}), json::array({r.x, r.y + r.height})});
}

// Portable grey map, which tesseract reads.
void write_pgm(const fs::path& file, const cv::Mat& grey) {
  std::ofstream out(file, std::ios::binary);
  out << "P5\n" << grey.cols << ' ' << grey.rows << "\n255\n";
  for (int y = 0; y < grey.rows; ++y) out.write(reinterpret_cast<const char*>(grey.ptr(y)), grey.cols);
}

// Its table of words: level, page, block, paragraph, line, word, left, top, width, height, confidence, text.
std::string tesseract(const fs::path& picture, const fs::path& table) {
  std::vector<std::string> words{"tesseract", picture.string(), (table.parent_path() / table.stem()).string(), "-l", "eng+deu+fra", "--psm", "6", "tsv"};
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  posix_spawn_file_actions_t quiet;
  posix_spawn_file_actions_init(&quiet);
  posix_spawn_file_actions_addopen(&quiet, 2, "/dev/null", O_WRONLY, 0);
  pid_t child = 0;
  if (posix_spawnp(&child, "tesseract", &quiet, nullptr, argv.data(), environ) != 0) throw std::runtime_error("the program tesseract cannot be started");
  posix_spawn_file_actions_destroy(&quiet);
  int status = 0;
  waitpid(child, &status, 0);
  std::ifstream in(table);
  return {std::istreambuf_iterator<char>(in), {}};
}

json lines_of(const std::string& table, const cv::Point& corner) {
  std::map<std::tuple<int, int, int>, std::pair<cv::Rect, std::string>> lines;
  std::istringstream rows(table);
  std::string row;
  std::getline(rows, row);
  while (std::getline(rows, row)) {
    std::vector<std::string> cells;
    std::istringstream parts(row);
    for (std::string cell; std::getline(parts, cell, '\t');) cells.push_back(cell);
    if (cells.size() < 12 || cells[0] != "5" || cells[11].find_first_not_of(' ') == std::string::npos) continue;
    auto& [box, text] = lines[{std::stoi(cells[2]), std::stoi(cells[3]), std::stoi(cells[4])}];
    box |= cv::Rect(std::stoi(cells[6]) + corner.x, std::stoi(cells[7]) + corner.y, std::stoi(cells[8]), std::stoi(cells[9]));
    text += (text.empty() ? "" : " ") + cells[11];
  }
  json out = json::array();
  for (const auto& [key, line] : lines) out.push_back({{"polygon_px", box_of(line.first)}, {"kind", "printed"}, {"text", line.second}, {"confidence", 0}});
  return out;
}

// Day, month in digits, Roman or English, year; two digits are taken for 19xx.
json date_of(const std::string& text) {
  static const std::regex form(R"((\d{1,2})[.\s/-]+(\d{1,2}|[IVXivx]{1,4}|[A-Z][a-z]{2,8})[.\s/-]+(\d{4}|\d{2})\b)");
  std::smatch m;
  if (!std::regex_search(text, m, form)) return nullptr;
  static const std::vector<std::string> roman{"i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"};
  static const std::vector<std::string> names{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"};
  std::string word = m[2];
  std::transform(word.begin(), word.end(), word.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  int month = std::atoi(word.c_str());
  if (const auto at = std::find(roman.begin(), roman.end(), word); at != roman.end()) month = static_cast<int>(at - roman.begin()) + 1;
  if (const auto at = std::find(names.begin(), names.end(), word.substr(0, 3)); at != names.end()) month = static_cast<int>(at - names.begin()) + 1;
  if (month < 1 || month > 12) return nullptr;
  const std::string year = m[3].length() == 2 ? "19" + m[3].str() : m[3].str();
  char edtf[16];
  std::snprintf(edtf, sizeof edtf, "%s-%02d-%02d", year.substr(0, 4).c_str(), month, std::min(31, std::atoi(m[1].str().c_str())));
  return {{"verbatim", m[0].str()}, {"edtf", edtf}, {"confidence", 0}};
}

json photograph(const fs::path& file, const fs::path& scratch) {
  std::ifstream in(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  const auto photo = papillote::image::decode(std::as_bytes(std::span(bytes)), file.filename().string());
  json out{{"file", file.filename().string()}, {"envelopes", json::array()}};
  if (!photo.ok()) return out;
  cv::Mat grey;
  cv::cvtColor(photo->bgr, grey, cv::COLOR_BGR2GRAY);
  cv::Mat paper;
  cv::GaussianBlur(grey, paper, cv::Size(9, 9), 0);
  cv::threshold(paper, paper, 0, 255, cv::THRESH_BINARY | cv::THRESH_OTSU);
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(paper, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  for (const auto& contour : contours) {
    const double share = cv::contourArea(contour) / static_cast<double>(grey.total());
    if (share < 0.003 || share > 0.3) continue;
    const cv::Rect box = cv::boundingRect(contour);
    write_pgm(scratch / "crop.pgm", grey(box));
    const json lines = lines_of(tesseract(scratch / "crop.pgm", scratch / "crop.tsv"), box.tl());
    std::string text;
    for (const json& line : lines) text += line["text"].get<std::string>() + "\n";
    out["envelopes"].push_back({{"polygon_px", box_of(box)}, {"lines", lines}, {"text", text}, {"date", date_of(text)}, {"place", nullptr}, {"findings", json::array()}});
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    std::cerr << "usage: " << argv[0] << " PHOTOGRAPHS SCRATCH\n";
    return 2;
  }
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(argv[1]))
    if (entry.path().extension() == ".jpg") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  json out{{"photographs", json::array()}};
  for (const fs::path& file : files) out["photographs"].push_back(photograph(file, argv[2]));
  std::cout << out.dump(-1, ' ', false, json::error_handler_t::replace) << '\n';
}
