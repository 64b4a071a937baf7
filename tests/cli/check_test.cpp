// The check at the table: verdicts with reasons, the watching mode, the page about the session.
#include <signal.h>
#include <sys/wait.h>

#include <chrono>
#include <filesystem>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

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

// `part` of a sample photograph as a photograph of its own, with `spot` burnt out.
std::string cut_out(const std::string& bytes, cv::Rect part, cv::Point spot = {}) {
  const auto photo = image::decode(std::as_bytes(std::span(bytes)), "a.jpg");
  cv::Mat picture = photo->bgr.clone();
  if (spot != cv::Point()) cv::circle(picture, spot, 30, cv::Scalar::all(255), -1);
  const auto jpeg = image::encode_jpeg(picture(part & cv::Rect(cv::Point(), picture.size())), 95);
  return {reinterpret_cast<const char*>(jpeg.data()), jpeg.size()};
}

struct Truth {
  int envelopes = 0;
  cv::Point middle;  // of one that the frame does not touch
};

Truth truth_of(const std::string& name) {
  const auto sheet = nlohmann::json::parse(read_file(sample(name))).at("photographs").at(0);
  const auto& polygon = sheet.at("envelopes").at(0).at("polygon_px");
  cv::Point2d sum;
  for (const auto& p : polygon) sum += cv::Point2d(p.at(0).get<double>(), p.at(1).get<double>());
  return {static_cast<int>(sheet.at("envelopes").size()), cv::Point(sum / static_cast<double>(polygon.size()))};
}

TEST(Check, SaysWhatTheFrameCuts) {
  const Scratch scratch;
  const std::string bytes = read_file(sample("tin01-sheet2.jpg"));
  const Truth truth = truth_of("tin01-sheet2.expected.json");
  // The frame goes through the middle of an envelope.
  write_file(scratch / "cut.jpg", cut_out(bytes, {truth.middle.x, 0, 4200, 2800}));
  const Ended cut = run({"check", scratch / "cut.jpg", "--envelopes"});
  EXPECT_EQ(cut.code, 3);
  EXPECT_THAT(cut.out, HasSubstr("cut by the frame"));
  const Ended whole = run({"check", sample("tin01-sheet2.jpg"), "--count", std::to_string(truth.envelopes)});
  EXPECT_THAT(whole.out, Not(HasSubstr("were counted"))) << "as many are seen as lie there";
}

TEST(Check, SaysWhenAGlintLiesOnAnEnvelope) {
  const Scratch scratch;
  const std::string bytes = read_file(sample("tin01-sheet2.jpg"));
  const Truth truth = truth_of("tin01-sheet2.expected.json");
  write_file(scratch / "glint.jpg", cut_out(bytes, {0, 0, 4200, 2800}, truth.middle));
  write_file(scratch / "same.jpg", cut_out(bytes, {0, 0, 4200, 2800}));
  EXPECT_THAT(run({"check", scratch / "glint.jpg", "--envelopes"}).out, HasSubstr("glints on envelopes: 1"));
  EXPECT_THAT(run({"check", scratch / "same.jpg", "--envelopes"}).out, Not(HasSubstr("glints")));
}

TEST(Check, SaysWhatCodesAndWhatCardAreNotSeen) {
  const Scratch scratch;
  const Ended ruler = run({"check", sample("tin02-sheet4-ruler.jpg")});
  EXPECT_THAT(ruler.out, HasSubstr("no capture card is seen"));
  write_file(scratch / "part.jpg", cut_out(read_file(sample("tin01-sheet2.jpg")), {1400, 900, 1400, 900}));
  EXPECT_THAT(run({"check", scratch / "part.jpg"}).out, HasSubstr("no sheet label is read"));
  EXPECT_THAT(run({"check", sample("tin01-sheet2.jpg")}).out, Not(HasSubstr("no sheet label")));
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
  for (const char* words : {"tin01-sheet3.jpg", "cycles a pixel", "BESIDE PUBLISHED AIMS", "sheet 2 has no good"})
    EXPECT_EQ(std::system(("pdftotext '" + (scratch / "session.pdf").string() + "' - | tr '\\n' ' ' | grep -q '" + words + "'").c_str()), 0) << words;
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

// A camera that pauses in the middle of a file, then writes the rest.
TEST(Check, TakesAPhotographAgainThatWentOnAfterAPause) {
  const Scratch scratch;
  fs::create_directory(scratch / "camera");
  const std::string bytes = read_file(sample("tin01-sheet2.jpg"));
  const pid_t watcher = start({"check", "--watch", scratch / "camera", "--report", scratch / "session.pdf"}, scratch / "said");
  const auto said = [&](const std::string& words) {
    for (int tries = 0; tries < 300; ++tries, std::this_thread::sleep_for(std::chrono::milliseconds(100)))
      if (fs::exists(scratch / "said") && read_file(scratch / "said").find(words) != std::string::npos) return true;
    return false;
  };
  write_file(scratch / "camera/a.jpg", bytes.substr(0, bytes.size() / 2));
  EXPECT_TRUE(said("the file ends before the picture does"));
  write_file(scratch / "camera/a.jpg", bytes);
  EXPECT_TRUE(said("ok      a.jpg"));
  kill(watcher, SIGTERM);
  int status = 0;
  waitpid(watcher, &status, 0);
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "what was said of the half file no longer counts";
  EXPECT_THAT(read_file(scratch / "said"), Not(HasSubstr("was taken")));
}

}  // namespace
}  // namespace papillote::cli
