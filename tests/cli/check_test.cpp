// The check at the table: verdicts with reasons, the watching mode, the page about the session.
#include <signal.h>
#include <sys/wait.h>

#include <chrono>
#include <filesystem>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/image.h"
#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

std::string sample(const std::string& name) { return (fs::path(PAPILLOTE_SOURCE_DIR) / "sample-images" / name).string(); }

std::string blurred(const std::string& bytes) {
  const auto photo = image::decode(std::as_bytes(std::span(bytes)), "a.jpg");
  cv::Mat soft;
  cv::GaussianBlur(photo->bgr, soft, {}, 14);
  const auto jpeg = image::encode_jpeg(soft, 90);
  return {reinterpret_cast<const char*>(jpeg.data()), jpeg.size()};
}

TEST(Check, SaysOkOrRetakeWithReasons) {
  const Scratch scratch;
  write_file(scratch / "soft.jpg", blurred(read_file(sample("tin01-sheet2.jpg"))));
  write_file(scratch / "words.jpg", "no photograph");
  const Ended good = run({"check", sample("tin01-sheet2.jpg")});
  EXPECT_EQ(good.code, 0) << good.out << good.err;
  EXPECT_THAT(good.out, HasSubstr("ok      tin01-sheet2.jpg  tin 01, sheet 2, front"));
  const Ended bad = run({"check", scratch / "soft.jpg", scratch / "words.jpg", scratch / "nowhere.jpg"});
  EXPECT_EQ(bad.code, 3);
  EXPECT_THAT(bad.out, HasSubstr("retake  soft.jpg"));
  EXPECT_THAT(bad.out, HasSubstr("blurred"));
  EXPECT_THAT(bad.out, HasSubstr("words.jpg: this is not a JPEG"));
  EXPECT_THAT(bad.out, HasSubstr("cannot be read"));
  EXPECT_EQ(run({"check"}).code, 2);
  EXPECT_EQ(run({"check", sample("tin01-sheet2.jpg"), "--patches", scratch / "words.jpg"}).code, 1);
}

TEST(Check, ComparesWithTheNumberCountedByHand) {
  const Ended wrong = run({"check", sample("tin01-sheet2.jpg"), "--count", "77"});
  EXPECT_EQ(wrong.code, 3);
  EXPECT_THAT(wrong.out, HasSubstr("77 were counted"));
}

TEST(Check, AsksAboutSheetsTakenTwiceOrMissing) {
  const Scratch scratch;
  const Ended session = run({"check", sample("tin01-sheet3.jpg"), sample("tin01-sheet3.jpg"), sample("tin01-sheet1-front.jpg"), sample("tin01-sheet1-back.jpg"), "--report",
                             scratch / "session.pdf"});
  EXPECT_THAT(session.out, HasSubstr("sheet 3, front was taken 2 times"));
  EXPECT_THAT(session.out, HasSubstr("tin 01: sheet 2 has no good photograph"));
  EXPECT_THAT(session.out, HasSubstr("tin 01, sheet 3: the back is missing"));
  const std::string pdf = read_file(scratch / "session.pdf");
  EXPECT_TRUE(pdf.starts_with("%PDF"));
  ASSERT_EQ(std::system(("pdfinfo '" + (scratch / "session.pdf").string() + "' | grep -q 'Pages: *1$'").c_str()), 0) << "one page";
}

TEST(Check, WatchesAFolderUntilItIsStopped) {
  const Scratch scratch;
  fs::create_directory(scratch / "camera");
  const pid_t watcher = start({"check", "--watch", scratch / "camera", "--report", scratch / "session.pdf"});
  std::this_thread::sleep_for(std::chrono::milliseconds(500));
  fs::copy_file(sample("tin01-sheet2.jpg"), scratch / "camera/a.jpg");
  std::this_thread::sleep_for(std::chrono::seconds(6));
  kill(watcher, SIGTERM);
  int status = 0;
  waitpid(watcher, &status, 0);
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "the one photograph is good";
  EXPECT_EQ(std::system(("pdftotext '" + (scratch / "session.pdf").string() + "' - | grep -q a.jpg").c_str()), 0);
}

}  // namespace
}  // namespace papillote::cli
