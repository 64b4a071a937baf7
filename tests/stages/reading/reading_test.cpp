#include "stages/reading/reading.h"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <numbers>

#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>
#include <unistd.h>

#include "models/library.h"
#include "stages/reading/handwriting.h"
#include "stages/reading/print_reader.h"
#include "stages/reading/strip.h"

namespace papillote::reading {
namespace {

namespace fs = std::filesystem;

cv::Mat drawn_line(const std::string& text, double scale = 1.2) {
  int below = 0;
  const cv::Size size = cv::getTextSize(text, cv::FONT_HERSHEY_DUPLEX, scale, 2, &below);
  cv::Mat line(size.height + below + 24, size.width + 40, CV_8UC1, cv::Scalar(225));
  cv::putText(line, text, {20, size.height + 12}, cv::FONT_HERSHEY_DUPLEX, scale, 40, 2, cv::LINE_AA);
  return line;
}

// A folder of models without a net: then Tesseract reads everything.
class WithoutNet : public testing::Test {
 protected:
  void SetUp() override {
    dir_ = fs::temp_directory_path() / ("papillote_reading_" + std::to_string(::getpid()));
    fs::create_directories(dir_ / "reader");
    std::ofstream(dir_ / "reader/card.md") << "| key | value |\n| --- | --- |\n| file | model.onnx |\n";
  }
  void TearDown() override { fs::remove_all(dir_); }

  [[nodiscard]] Result<Readers> open() const {
    Options options;
    options.languages = "eng";
    return Readers::open(dir_.string(), options);
  }

  fs::path dir_;
};

TEST(PrintReader, ReadsPrintWithItsConfidence) {
  const auto reader = PrintReader::open("eng");
  ASSERT_TRUE(reader.ok()) << reader.failure().reason;
  const Candidate line = reader->read(drawn_line("Ithaca New York 1904"));
  EXPECT_EQ(line.text, "Ithaca New York 1904");
  EXPECT_EQ(line.character_confidence.size(), 20U);
  EXPECT_GT(line.certainty, 0.9);
  EXPECT_GT(line.confidence, 0.3);
}

TEST(PrintReader, SaysWhichLanguageIsNotInstalled) {
  const auto reader = PrintReader::open("eng+tlh");
  ASSERT_FALSE(reader.ok());
  EXPECT_EQ(reader.failure().kind, "no_language_data");
  EXPECT_NE(reader.failure().reason.find("tlh"), std::string::npos);
}

TEST(Strip, LightWritingOnDarkIsInverted) {
  const cv::Mat line = drawn_line("Digne");
  EXPECT_EQ(cv::norm(grey_line(255 - line), line, cv::NORM_INF), 0);
  EXPECT_EQ(cv::norm(grey_line(line), line, cv::NORM_INF), 0);
}

// The contract of models/reader/card.md.
TEST(NetInput, IsScaledNormalisedAndPadded) {
  cv::Mat line(32, 50, CV_8UC1, cv::Scalar(200));
  line.colRange(10, 20) = 100;
  const auto input = net_input(line);
  EXPECT_EQ(input.shape, (std::vector<std::int64_t>{1, 1, 64, 120}));  // 100 + 8 + 8, up to a multiple of 8
  EXPECT_EQ(input.values[7], 0.0F);
  // Mean 180, deviation 40: paper (180 - 200) / 40, ink (180 - 100) / 40; the edge between is interpolated.
  EXPECT_NEAR(input.values[8], -0.5, 0.02);
  EXPECT_NEAR(input.values[8 + 30], 2.0, 0.05);
  EXPECT_EQ(input.values[8 + 100], 0.0F);
  EXPECT_TRUE(net_input(cv::Mat(32, 50, CV_8UC1, cv::Scalar(200))).values.empty());
  EXPECT_EQ(net_input(cv::Mat(1, 1, CV_8UC1, cv::Scalar(0))).shape.size(), 0U);
  cv::Mat wide(64, 10000, CV_8UC1, cv::Scalar(200));
  wide.colRange(0, 3000) = 100;
  EXPECT_EQ(net_input(wide).shape[3], 4112);
}

// Lines of like widths go through the net together; what it says of each is what it says of it alone.
TEST(HandwritingReader, ReadsLinesTogetherAsAlone) {
  const auto reader = HandwritingReader::open(models::models_folder());
  ASSERT_TRUE(reader.ok()) << reader.failure().reason;
  const cv::Mat ithaca = drawn_line("Ithaca New York 1904");
  cv::Mat upside_down;
  cv::flip(ithaca, upside_down, -1);
  const cv::Mat blank(40, 300, CV_8UC1, cv::Scalar(225));
  const std::vector<cv::Mat> lines{drawn_line("July 14"), ithaca, blank, drawn_line("Ithaca, New York 1904"), upside_down, drawn_line("v.1904")};
  const auto together = reader->look(lines);
  ASSERT_TRUE(together.ok());
  ASSERT_EQ(together->size(), lines.size());
  EXPECT_EQ((*together)[2].frames, 0);
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const auto alone = reader->look({lines[i]});
    ASSERT_TRUE(alone.ok());
    EXPECT_EQ((*together)[i].frames, alone->front().frames);
    EXPECT_EQ(best_path((*together)[i]).text, best_path(alone->front()).text);
  }
  // A line and itself turned are equally wide: nothing but rounding may differ.
  const auto pair = reader->look({ithaca, upside_down});
  const auto alone = reader->look({ithaca});
  ASSERT_TRUE(pair.ok() && alone.ok());
  ASSERT_EQ(pair->front().log_p.size(), alone->front().log_p.size());
  for (std::size_t i = 0; i < alone->front().log_p.size(); ++i) ASSERT_NEAR(pair->front().log_p[i], alone->front().log_p[i], 1e-3);
}

TEST_F(WithoutNet, LinesAreReadFromThePhotographUprightAndTurned) {
  auto readers = open();
  ASSERT_TRUE(readers.ok()) << readers.failure().reason;
  image::Image photo{cv::Mat(300, 700, CV_8UC3, cv::Scalar(225, 225, 225))};
  const std::vector<std::string> texts{"Ithaca New York", "July 14 1904"};
  LineLayout layout;
  EnvelopeOutline envelope;
  envelope.crop = {Quad{{{0, 0}, {700, 0}, {700, 300}, {0, 300}}}, 700, 300};
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const int y = 80 + 90 * static_cast<int>(i);
    cv::putText(photo.bgr, texts[i], {60, y}, cv::FONT_HERSHEY_DUPLEX, 1.4, {50, 45, 40}, 2, cv::LINE_AA);
    TextLine line;
    line.kind = LineKind::printed;
    const double top = y - 42, bottom = y + 16;
    line.quad_px = {{{45, top}, {520, top}, {520, bottom}, {45, bottom}}};
    line.polygon_px = {line.quad_px.begin(), line.quad_px.end()};
    layout.lines.push_back(line);
  }
  const auto upright = read_lines(envelope, layout, photo, *readers);
  ASSERT_TRUE(upright.ok());
  EXPECT_EQ(upright->text, "Ithaca New York\nJuly 14 1904");
  EXPECT_EQ(upright->turned_deg, 0);
  EXPECT_EQ(upright->lines.front().reader, "tesseract");

  // The same photograph the wrong way up: the layout takes the lines from its own left and top.
  cv::rotate(photo.bgr, photo.bgr, cv::ROTATE_180);
  std::reverse(layout.lines.begin(), layout.lines.end());
  for (TextLine& line : layout.lines) {
    for (Point& p : line.quad_px) p = {700 - p.x, 300 - p.y};
    line = turned_half(line);
    line.polygon_px = {line.quad_px.begin(), line.quad_px.end()};
  }
  const auto turned = read_lines(envelope, layout, photo, *readers);
  ASSERT_TRUE(turned.ok());
  EXPECT_EQ(turned->text, "Ithaca New York\nJuly 14 1904");
  EXPECT_EQ(turned->turned_deg, 180);
  EXPECT_GT(turned->lines.front().line.quad_px[0].x, turned->lines.front().line.quad_px[1].x);
}

TEST_F(WithoutNet, HandwritingIsReadWithLowConfidence) {
  auto readers = open();
  ASSERT_TRUE(readers.ok());
  image::Image photo;
  cv::cvtColor(drawn_line("Ithaca New York 1904"), photo.bgr, cv::COLOR_GRAY2BGR);
  TextLine line;
  line.kind = LineKind::handwritten;
  const auto w = double(photo.bgr.cols), h = double(photo.bgr.rows);
  line.quad_px = {{{0, 0}, {w, 0}, {w, h}, {0, h}}};
  const auto read = read_lines({}, {{line}, "plain"}, photo, *readers);
  ASSERT_TRUE(read.ok());
  EXPECT_LE(read->lines.front().confidence, 0.2);
}

TEST_F(WithoutNet, NewsprintIsNoPartOfTheText) {
  auto readers = open();
  ASSERT_TRUE(readers.ok());
  image::Image photo;
  cv::cvtColor(drawn_line("the price of oats"), photo.bgr, cv::COLOR_GRAY2BGR);
  TextLine line;
  line.kind = LineKind::newsprint;
  const auto w = double(photo.bgr.cols), h = double(photo.bgr.rows);
  line.quad_px = {{{0, 0}, {w, 0}, {w, h}, {0, h}}};
  const auto read = read_lines({}, {std::vector<TextLine>(6, line), "newsprint"}, photo, *readers);
  ASSERT_TRUE(read.ok());
  EXPECT_EQ(read->text, "");
  ASSERT_EQ(read->lines.size(), 6U);
  EXPECT_EQ(read->lines.front().text, "the price of oats");
  EXPECT_EQ(read->lines.back().text, "");  // only the largest few are read
}

void expect_no_harm(Readers& readers) {
  for (const auto& [rows, cols, value] : {std::tuple{1, 1, 0}, {1, 1, 255}, {64, 1024, 0}, {64, 1024, 255}, {200, 1, 90}, {1, 400, 90}, {64, 10000, 128}}) {
    const auto line = read_line(cv::Mat(rows, cols, CV_8UC3, cv::Scalar::all(value)), readers, true);
    ASSERT_TRUE(line.ok());
    EXPECT_EQ(line->text, "") << rows << " x " << cols;
    EXPECT_EQ(line->confidence, 0);
  }
  EXPECT_EQ(read_line(cv::Mat(), readers, true)->text, "");
  cv::Mat wide(64, 10000, CV_8UC1, cv::Scalar(220));
  for (int x = 0; x < 9600; x += 900) cv::putText(wide, "Ithaca New York", {x + 20, 45}, cv::FONT_HERSHEY_DUPLEX, 1.2, 40, 2, cv::LINE_AA);
  EXPECT_TRUE(read_line(wide, readers, true).ok());
}

TEST_F(WithoutNet, OddPicturesDoNoHarm) {
  auto readers = open();
  ASSERT_TRUE(readers.ok());
  expect_no_harm(*readers);
  const cv::Mat line = drawn_line("Ithaca New York 1904");
  EXPECT_EQ(read_line(255 - line, *readers, false)->text, "Ithaca New York 1904");
}

TEST_F(WithoutNet, MissingCardIsRefused) {
  fs::remove(dir_ / "reader/card.md");
  EXPECT_EQ(open().failure().kind, "model_missing");
}

TEST_F(WithoutNet, NetThatTheCardNamesMustBeThere) {
  std::ofstream(dir_ / "reader/card.md") << "| file | model.onnx |\n| sha256 | 00 |\n| input | [n, 1, 64, w] |\n| output | [n, t, 5] |\n";
  EXPECT_EQ(open().failure().kind, "model_missing");
  std::ofstream(dir_ / "reader/model.onnx") << "not the one";
  EXPECT_EQ(open().failure().kind, "model_altered");
}

// The net that the repository carries.
TEST(Net, ReadsLinesAndDoesNoHarm) {
  auto readers = Readers::open(models::models_folder(), {});
  if (!readers.ok() && readers.failure().kind == "runtime_missing") {
    std::cout << "skipped: " << readers.failure().reason << "\n";
    return;
  }
  ASSERT_TRUE(readers.ok()) << readers.failure().reason;
  expect_no_harm(*readers);
  const cv::Mat line = drawn_line("Ithaca New York 1904");
  for (const bool language_model : {false, true}) EXPECT_EQ(read_line(line, *readers, language_model)->text, "Ithaca New York 1904");
  EXPECT_EQ(read_line(255 - line, *readers, true)->text, "Ithaca New York 1904");
  cv::Mat half;
  cv::flip(line, half, -1);
  const auto turned = read_line(half, *readers, true);
  EXPECT_EQ(turned->text, "Ithaca New York 1904");
  EXPECT_GT(turned->line.quad_px[0].x, turned->line.quad_px[1].x);
}

}  // namespace
}  // namespace papillote::reading
