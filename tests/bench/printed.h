// What a printer would make of a PDF: its pages as pixels, its words, and the codes on them. Uses the poppler tools, which are
// no part of the program, so that a print is judged by other means than those that made it.
#pragma once

#include <ZXing/ReadBarcode.h>
#include <spawn.h>
#include <sys/wait.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <opencv2/imgproc.hpp>
#include <stdexcept>
#include <string>
#include <vector>

extern char** environ;

namespace papillote::bench::printed {

class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "papillote-print-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

inline std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void run(std::vector<std::string> words) {
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  pid_t child = 0;
  int status = 0;
  if (::posix_spawnp(&child, arguments[0], nullptr, nullptr, arguments.data(), environ) != 0 ||
      ::waitpid(child, &status, 0) < 0 || status != 0)
    throw std::runtime_error(words[0] + " failed");
}

// Page `number`, from 1, in colour.
inline cv::Mat page(const std::string& pdf, int number, int dpi) {
  const Folder folder;
  std::ofstream(folder.path() / "print.pdf", std::ios::binary) << pdf;
  run({"pdftoppm", "-r", std::to_string(dpi), "-f", std::to_string(number), "-l", std::to_string(number), "-singlefile",
       (folder.path() / "print.pdf").string(), (folder.path() / "page").string()});
  const std::string ppm = bytes_of(folder.path() / "page.ppm");
  int columns = 0;
  int rows = 0;
  int most = 0;
  int header = 0;
  if (std::sscanf(ppm.c_str(), "P6 %d %d %d%n", &columns, &rows, &most, &header) != 3) throw std::runtime_error("no PPM");
  const auto start = static_cast<std::size_t>(header) + 1;
  if (ppm.size() - start != 3u * static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows))
    throw std::runtime_error("short PPM");
  const std::vector<unsigned char> pixels(ppm.begin() + static_cast<std::ptrdiff_t>(start), ppm.end());
  cv::Mat bgr;
  cv::cvtColor(cv::Mat(rows, columns, CV_8UC3, const_cast<unsigned char*>(pixels.data())), bgr, cv::COLOR_RGB2BGR);
  return bgr;
}

inline std::string words(const std::string& pdf) {
  const Folder folder;
  std::ofstream(folder.path() / "print.pdf", std::ios::binary) << pdf;
  run({"pdftotext", "-layout", (folder.path() / "print.pdf").string(), (folder.path() / "words.txt").string()});
  return bytes_of(folder.path() / "words.txt");
}

// pdftotext ends every page with a form feed.
inline std::size_t pages(const std::string& pdf) {
  const std::string text = words(pdf);
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\f'));
}

// Every code of the format on the page, from its upper edge down.
inline std::vector<std::string> codes(const cv::Mat& page_bgr, int dpi, ZXing::BarcodeFormat format) {
  const double px_per_mm = dpi / 25.4;
  cv::Mat grey;
  cv::cvtColor(page_bgr, grey, cv::COLOR_BGR2GRAY);
  cv::Mat blobs = grey < 128;
  const int reach = static_cast<int>(1.2 * px_per_mm) | 1;  // joins the modules of one code
  cv::morphologyEx(blobs, blobs, cv::MORPH_CLOSE, cv::Mat::ones(reach, reach, CV_8U));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(blobs, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  std::vector<std::pair<std::pair<int, int>, std::string>> found;
  for (const auto& outline : outlines) {
    const cv::Rect box = cv::boundingRect(outline);
    if (box.width < 4 * px_per_mm || box.height < 4 * px_per_mm) continue;
    const int margin = static_cast<int>(1.0 * px_per_mm);
    const cv::Rect around = (box + cv::Size(2 * margin, 2 * margin) - cv::Point(margin, margin)) & cv::Rect({}, grey.size());
    const cv::Mat cut = grey(around).clone();
    ZXing::DecodeHints hints;
    hints.setFormats(format);
    const auto code = ZXing::ReadBarcode({cut.data, cut.cols, cut.rows, ZXing::ImageFormat::Lum}, hints);
    if (code.isValid()) found.push_back({{box.y, box.x}, code.text()});
  }
  std::sort(found.begin(), found.end());
  std::vector<std::string> texts;
  for (const auto& [at, text] : found) texts.push_back(text);
  return texts;
}

}  // namespace papillote::bench::printed
