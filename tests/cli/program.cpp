#include "tests/cli/program.h"

#include <fcntl.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <span>
#include <stdexcept>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"

namespace papillote::cli {

namespace fs = std::filesystem;

namespace {

[[noreturn]] void become(const std::vector<std::string>& arguments) {
  std::vector<std::string> words{PAPILLOTE_PROGRAM};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  execv(argv[0], argv.data());
  _exit(127);
}

}  // namespace

Ended run(const std::vector<std::string>& arguments, const std::string& standard_input) {
  const Scratch scratch;
  write_file(scratch / "in", standard_input);
  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("cannot fork");
  if (child == 0) {
    const int in = open((scratch / "in").c_str(), O_RDONLY);
    const int out = open((scratch / "out").c_str(), O_CREAT | O_WRONLY, 0600);
    const int err = open((scratch / "err").c_str(), O_CREAT | O_WRONLY, 0600);
    dup2(in, 0);
    dup2(out, 1);
    dup2(err, 2);
    become(arguments);
  }
  int status = 0;
  waitpid(child, &status, 0);
  return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), read_file(scratch / "out"), read_file(scratch / "err")};
}

pid_t start(const std::vector<std::string>& arguments, const fs::path& output) {
  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("cannot fork");
  if (child == 0) {
    setpgid(0, 0);
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    const int out = open(output.c_str(), O_CREAT | O_WRONLY | O_TRUNC, 0600);
    const int nowhere = open("/dev/null", O_RDWR);
    dup2(out, 1);
    dup2(nowhere, 2);
    become(arguments);
  }
  setpgid(child, child);  // whichever of the two comes first
  return child;
}

Scratch::Scratch() {
  std::string pattern = (fs::temp_directory_path() / "papillote-XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("cannot make a temporary folder");
  path_ = pattern;
}

Scratch::~Scratch() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

void small_photographs(const fs::path& folder, int most, int shrink) {
  fs::create_directories(folder);
  std::vector<fs::path> samples;
  for (const auto& entry : fs::directory_iterator(fs::path(PAPILLOTE_SOURCE_DIR) / "sample-images"))
    if (entry.path().extension() == ".jpg") samples.push_back(entry.path());
  std::sort(samples.begin(), samples.end());
  samples.resize(std::min(samples.size(), static_cast<std::size_t>(most)));
  for (const fs::path& sample : samples) {
    const std::string bytes = read_file(sample);
    const auto photo = image::decode(std::as_bytes(std::span(bytes)), sample.filename().string());
    cv::Mat small;
    cv::resize(photo->bgr, small, {}, 1.0 / shrink, 1.0 / shrink, cv::INTER_AREA);
    const auto jpeg = image::encode_jpeg(small, 90);
    write_file(folder / sample.filename(), std::string(reinterpret_cast<const char*>(jpeg.data()), jpeg.size()));
  }
}

void write_file(const fs::path& file, const std::string& bytes) { std::ofstream(file, std::ios::binary) << bytes; }

std::string read_file(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace papillote::cli
