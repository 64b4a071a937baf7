// What may go wrong around a batch: nothing is lost, nothing is falsified, and the user is told.
#include <fcntl.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <chrono>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"
#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

using testing::AnyOf;
using testing::HasSubstr;
namespace fs = std::filesystem;

std::vector<std::string> process(const Scratch& scratch, const std::string& collection) {
  return {"process", scratch / "p", "--collection", scratch / collection, "--px-per-mm", "5", "--jobs", "2"};
}

std::string index_of(const Scratch& scratch, const std::string& collection) { return run({"export", "json", "--collection", scratch / collection}).out; }

int waited(pid_t child) {
  int status = 0;
  waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

void after_ms(int ms) { std::this_thread::sleep_for(std::chrono::milliseconds(ms)); }

// PNG (second edition), 11.2.2 IHDR: the header alone, with its right check sum or none; a bomb claims and does not deliver.
std::string png_header(std::uint32_t width, std::uint32_t height) {
  std::string file("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16);
  for (const std::uint32_t side : {width, height})
    for (int shift = 24; shift >= 0; shift -= 8) file += static_cast<char>(side >> shift & 255);
  return file + std::string("\x08\x02\0\0\0\0\0\0\0", 9);
}

TEST(Faults, PixelBombsAndFilesThatLieAreRefusedAndNamed) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 4);
  write_file(scratch / "p/bomb.png", png_header(30000, 30000));
  // A JPEG whose frame header (SOF0) claims 65,500 x 65,500 (ITU-T T.81, B.2.2).
  std::string liar;
  for (const auto& entry : fs::directory_iterator(scratch / "p"))
    if (entry.path().extension() == ".jpg") liar = read_file(entry.path());
  const std::size_t frame = liar.find(std::string("\xff\xc0", 2));
  ASSERT_NE(frame, std::string::npos);
  liar.replace(frame + 5, 4, "\xff\xdc\xff\xdc");
  write_file(scratch / "p/liar.jpg", liar);
  // BigTIFF with a directory far behind its end.
  write_file(scratch / "p/nowhere.tif", std::string("II+\0\x08\0\0\0\xff\xff\xff\xff\x0f\0\0\0", 16));
  const Ended batch = run(process(scratch, "c"));
  EXPECT_EQ(batch.code, 3) << batch.err;
  for (const char* name : {"bomb.png", "liar.jpg", "nowhere.tif"}) EXPECT_THAT(batch.err, HasSubstr(name));
  EXPECT_THAT(index_of(scratch, "c"), HasSubstr("polygon_px")) << "the good one is indexed";
}

// What this program and those it starts may take of the address space.
class RoomFor {
 public:
  explicit RoomFor(rlim_t bytes) {
    getrlimit(RLIMIT_AS, &before_);
    const rlimit less{bytes, before_.rlim_max};
    setrlimit(RLIMIT_AS, &less);
  }
  ~RoomFor() { setrlimit(RLIMIT_AS, &before_); }
  RoomFor(const RoomFor&) = delete;
  RoomFor& operator=(const RoomFor&) = delete;

 private:
  rlimit before_{};
};

TEST(Faults, APhotographOfAHundredMegapixelsPassesOnTwoGibibytes) {
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
  std::cout << "the sanitizers need more room than that: skipped\n";
#else
  const Scratch scratch;
  fs::create_directory(scratch / "p");
  {
    const std::string bytes = read_file(fs::path(PAPILLOTE_SOURCE_DIR) / "sample-images/tin01-sheet2.jpg");
    cv::Mat large;
    cv::resize(image::decode(std::as_bytes(std::span(bytes)), "a.jpg")->bgr, large, {12300, 8200});
    const auto jpeg = image::encode_jpeg(large, 85);
    write_file(scratch / "p/a.jpg", {reinterpret_cast<const char*>(jpeg.data()), jpeg.size()});
  }
  const RoomFor two(rlim_t{2} << 30);
  const Ended batch = run({"process", scratch / "p", "--collection", scratch / "c", "--jobs", "1"});
  EXPECT_EQ(batch.code, 0) << batch.err;
  const auto sheet = nlohmann::json::parse(index_of(scratch, "c")).at("photographs").at(0);
  EXPECT_TRUE(sheet.at("failure").is_null());
  EXPECT_GT(sheet.at("envelopes").size(), 10U);
#endif
}

TEST(Faults, AFileReplacedDuringTheRunGivesTheIndexOfOneOfItsContents) {
  const Scratch scratch;
  small_photographs(scratch / "p", 3, 4);
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(scratch / "p")) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  const pid_t batch = start(process(scratch, "c"));
  after_ms(300);
  fs::copy_file(files[0], files[2], fs::copy_options::overwrite_existing);
  EXPECT_THAT(waited(batch), AnyOf(0, 3));
  EXPECT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  EXPECT_THAT(run(process(scratch, "fresh")).code, AnyOf(0, 3));
  const auto photographs = nlohmann::json::parse(index_of(scratch, "c")).at("photographs");
  const auto fresh = nlohmann::json::parse(index_of(scratch, "fresh")).at("photographs");
  ASSERT_EQ(photographs.size(), fresh.size());
  for (std::size_t i = 0; i < fresh.size(); ++i) {
    EXPECT_EQ(photographs[i].at("sha256"), fresh[i].at("sha256"));
    EXPECT_EQ(photographs[i].at("envelopes").size(), fresh[i].at("envelopes").size());
  }
}

TEST(Faults, AFileDeletedDuringTheRunIsNamedAndTheRestGoesOn) {
  const Scratch scratch;
  small_photographs(scratch / "p", 4, 4);
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(scratch / "p")) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  const pid_t batch = start(process(scratch, "c"));
  after_ms(200);
  fs::remove(files[3]);
  EXPECT_THAT(waited(batch), AnyOf(0, 3));
  EXPECT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  const auto photographs = nlohmann::json::parse(index_of(scratch, "c")).at("photographs");
  std::size_t there = 0;
  for (const auto& photograph : photographs) there += !photograph.at("missing").get<bool>() && photograph.at("failure").is_null();
  EXPECT_EQ(there, 3U);
}

// Whether the process has said what it does at this signal: a bit of the mask SigCgt (proc(5)).
bool hears(pid_t process, int number) {
  std::ifstream status("/proc/" + std::to_string(process) + "/status");
  for (std::string line; std::getline(status, line);)
    if (line.starts_with("SigCgt:")) return (std::stoull(line.substr(7), nullptr, 16) >> (number - 1) & 1U) != 0;
  return false;
}

TEST(Faults, SigtermAndSigintEndInOrderAndTheSameCommandGoesOn) {
  const Scratch scratch;
  small_photographs(scratch / "p", 4, 3);
  ASSERT_THAT(run(process(scratch, "undisturbed")).code, AnyOf(0, 3));
  int interrupted = 0;
  for (const int number : {SIGTERM, SIGINT}) {
    const pid_t batch = start(process(scratch, "c"));
    for (int tries = 0; tries < 6000 && !hears(batch, number); ++tries) after_ms(10);
    after_ms(300);
    kill(batch, number);
    const int code = waited(batch);
    EXPECT_THAT(code, AnyOf(0, 3, 130)) << number;
    interrupted += code == 130;
  }
  EXPECT_GT(interrupted, 0) << "both were through before they were told: this test would prove nothing";
  EXPECT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  EXPECT_TRUE(index_of(scratch, "c") == index_of(scratch, "undisturbed"));
}

TEST(Faults, TwoBatchesOnOneCollectionAreOneTooMany) {
  const Scratch scratch;
  small_photographs(scratch / "p", 4, 3);
  const pid_t first = start(process(scratch, "c"));
  while (!fs::exists(scratch / "c/papillote.sqlite")) after_ms(10);
  const Ended second = run(process(scratch, "c"));
  EXPECT_EQ(second.code, 4) << second.err;
  EXPECT_THAT(second.err, HasSubstr("another batch"));
  EXPECT_THAT(waited(first), AnyOf(0, 3));
}

TEST(Faults, ADamagedStoreIsRefusedWithARemedy) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 4);
  ASSERT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  std::string bytes = read_file(scratch / "c/papillote.sqlite");
  ASSERT_GT(bytes.size(), 30000U);
  for (std::size_t i = 8192; i < 28000; ++i) bytes[i] = static_cast<char>(i * 131);
  write_file(scratch / "c/papillote.sqlite", bytes);
  const Ended batch = run(process(scratch, "c"));
  EXPECT_EQ(batch.code, 1);
  EXPECT_THAT(batch.err, HasSubstr("damaged"));
  EXPECT_THAT(batch.err, HasSubstr("backup"));
}

// A small file system in memory; only root may mount one.
class SmallDisk {
 public:
  SmallDisk(const fs::path& at, const char* size) : at_(at) {
    fs::create_directories(at);
    mounted_ = mount("tmpfs", at.c_str(), "tmpfs", 0, size) == 0;
  }
  ~SmallDisk() {
    if (mounted_) umount2(at_.c_str(), MNT_DETACH);
  }
  SmallDisk(const SmallDisk&) = delete;
  SmallDisk& operator=(const SmallDisk&) = delete;
  [[nodiscard]] bool mounted() const { return mounted_; }
  bool read_only() const { return mount("tmpfs", at_.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, nullptr) == 0; }

 private:
  fs::path at_;
  bool mounted_ = false;
};

TEST(Faults, AFullDiskIsSaidAndTheSameCommandGoesOn) {
  const Scratch scratch;
  small_photographs(scratch / "p", 3, 4);
  const SmallDisk disk(scratch / "c", "size=400k");
  if (!disk.mounted()) {
    std::cout << "a small disk cannot be mounted without root: skipped\n";
    return;
  }
  const Ended full = run(process(scratch, "c"));
  EXPECT_EQ(full.code, 1) << full.err;
  EXPECT_THAT(full.err, AnyOf(HasSubstr("disk is full"), HasSubstr("has room")));
  ASSERT_EQ(mount("tmpfs", (scratch / "c").c_str(), "tmpfs", MS_REMOUNT, "size=64m"), 0);
  EXPECT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  ASSERT_THAT(run(process(scratch, "undisturbed")).code, AnyOf(0, 3));
  EXPECT_TRUE(index_of(scratch, "c") == index_of(scratch, "undisturbed"));
}

TEST(Faults, AReadOnlyDiskIsSaid) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 4);
  const SmallDisk disk(scratch / "c", "size=64m");
  if (!disk.mounted()) {
    std::cout << "a read-only disk cannot be mounted without root: skipped\n";
    return;
  }
  ASSERT_THAT(run(process(scratch, "c")).code, AnyOf(0, 3));
  const std::string before = index_of(scratch, "c");
  ASSERT_TRUE(disk.read_only());
  const Ended batch = run(process(scratch, "c"));
  EXPECT_EQ(batch.code, 1);
  EXPECT_THAT(batch.err, HasSubstr((scratch / "c").string()));
  EXPECT_TRUE(index_of(scratch, "c") == before) << "reading still works";
}

}  // namespace
}  // namespace papillote::cli
