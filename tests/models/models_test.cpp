#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <string>

#include <gtest/gtest.h>
#include <unistd.h>

#include "models/library.h"
#include "models/runtime.h"

namespace papillote::models {
namespace {

namespace fs = std::filesystem;

// A network of one node, y = x + x, for x of shape [n, 3], in the ONNX format (opset 13).
const std::string kTwice(
    "\x08\x07\x3a\x43\x0a\x0e\x0a\x01\x78\x0a\x01\x78\x12\x01\x79\x22\x03\x41\x64\x64\x12\x05\x74\x77\x69\x63\x65\x5a\x14\x0a\x01"
    "\x78\x12\x0f\x0a\x0d\x08\x01\x12\x09\x0a\x03\x12\x01\x6e\x0a\x02\x08\x03\x62\x14\x0a\x01\x79\x12\x0f\x0a\x0d\x08\x01\x12\x09"
    "\x0a\x03\x12\x01\x6e\x0a\x02\x08\x03\x42\x02\x10\x0d",
    75);

class Models : public testing::Test {
 protected:
  void SetUp() override {
    dir_ = fs::temp_directory_path() / ("papillote_models_" + std::to_string(::getpid()));
    fs::create_directories(dir_ / "twice");
    write("twice/model.onnx", kTwice);
    write("twice/card.md", card(digest_of(kTwice).hex, "float32 [n, 3]"));
  }
  void TearDown() override { fs::remove_all(dir_); }

  void write(const std::string& name, const std::string& bytes) const { std::ofstream(dir_ / name, std::ios::binary) << bytes; }
  static std::string card(const std::string& sha256, const std::string& shape) {
    return "# Twice\n\n| key | value |\n| --- | --- |\n| file | model.onnx |\n| sha256 | " + sha256 + " |\n| input | x, " + shape +
           " |\n| output | y, " + shape + " |\n\n| later table | not read |\n";
  }
  // False, with one line printed, where the runtime is not installed.
  [[nodiscard]] bool runtime_there() const {
    const auto model = open_model(dir_.string(), "twice");
    if (model.ok() || model.failure().kind != "runtime_missing") return true;
    std::cout << "skipped: " << model.failure().reason << "\n";
    return false;
  }

  fs::path dir_;
};

TEST_F(Models, RunAndSayTheirShapes) {
  if (!runtime_there()) return;
  const auto model = open_model(dir_.string(), "twice");
  ASSERT_TRUE(model.ok()) << model.failure().reason;
  EXPECT_EQ(model->input_shape(), (std::vector<std::int64_t>{-1, 3}));
  const auto y = model->run({{2, 3}, {1, 2, 3, -4, 0.5F, 0}});
  ASSERT_TRUE(y.ok()) << y.failure().reason;
  EXPECT_EQ(y->shape, (std::vector<std::int64_t>{2, 3}));
  EXPECT_EQ(y->values, (std::vector<float>{2, 4, 6, -8, 1, 0}));
}

// Where the runtime reports on its use, it does so from a thread of its own.
TEST_F(Models, StartNoThread) {
  const auto threads = [] { return std::distance(fs::directory_iterator("/proc/self/task"), fs::directory_iterator()); };
  const auto before = threads();
  if (!runtime_there()) return;
  const auto model = open_model(dir_.string(), "twice");
  ASSERT_TRUE(model.ok()) << model.failure().reason;
  EXPECT_EQ(threads(), before);
}

TEST_F(Models, RefuseAnInputThatDoesNotFit) {
  if (!runtime_there()) return;
  const auto model = open_model(dir_.string(), "twice");
  ASSERT_TRUE(model.ok());
  const auto wrong_axis = model->run({{1, 4}, {1, 2, 3, 4}});
  ASSERT_FALSE(wrong_axis.ok());
  EXPECT_EQ(wrong_axis.failure().kind, "inference");
  EXPECT_FALSE(model->run({{2, 3}, {1, 2, 3}}).ok());
}

TEST_F(Models, AreRefusedWhenMissing) {
  fs::remove(dir_ / "twice/model.onnx");
  const auto model = open_model(dir_.string(), "twice");
  ASSERT_FALSE(model.ok());
  EXPECT_EQ(model.failure().kind, "model_missing");
  EXPECT_NE(model.failure().reason.find("model.onnx"), std::string::npos);
  EXPECT_EQ(open_model(dir_.string(), "nothing").failure().kind, "model_missing");
}

TEST_F(Models, AreRefusedWhenCutShortOrAltered) {
  write("twice/model.onnx", kTwice.substr(0, 40));
  EXPECT_EQ(open_model(dir_.string(), "twice").failure().kind, "model_altered");
  std::string changed = kTwice;
  changed[21] = 'B';
  write("twice/model.onnx", changed);
  EXPECT_EQ(open_model(dir_.string(), "twice").failure().kind, "model_altered");
  write("twice/model.onnx", "");
  EXPECT_EQ(open_model(dir_.string(), "twice").failure().kind, "model_altered");
}

TEST_F(Models, AreRefusedWhenTheRuntimeCannotReadThem) {
  if (!runtime_there()) return;
  const std::string nonsense = "this is no network";
  write("twice/model.onnx", nonsense);
  write("twice/card.md", card(digest_of(nonsense).hex, "float32 [n, 3]"));
  EXPECT_EQ(open_model(dir_.string(), "twice").failure().kind, "model_unusable");
}

TEST_F(Models, AreRefusedWhenTheCardSaysOtherShapes) {
  if (!runtime_there()) return;
  write("twice/card.md", card(digest_of(kTwice).hex, "float32 [n, 4]"));
  EXPECT_EQ(open_model(dir_.string(), "twice").failure().kind, "model_altered");
}

TEST_F(Models, SayWhereTheRuntimeWasLookedFor) {
  ::setenv("PAPILLOTE_RUNTIME", "/nowhere/libonnxruntime.so.1", 1);
  const auto model = open_model(dir_.string(), "twice");
  ::unsetenv("PAPILLOTE_RUNTIME");
  ASSERT_FALSE(model.ok());
  EXPECT_EQ(model.failure().kind, "runtime_missing");
  EXPECT_NE(model.failure().reason.find("/nowhere/"), std::string::npos);
}

TEST_F(Models, PartsAreCheckedToo) {
  write("twice/card.md", "| file | model.onnx |\n| characters | charset.txt |\n| characters sha256 | " + digest_of("a\nb\n").hex + " |\n");
  EXPECT_EQ(read_part(dir_.string(), "twice", "characters").failure().kind, "model_missing");
  write("twice/charset.txt", "a\nb\n");
  EXPECT_EQ(read_part(dir_.string(), "twice", "characters").value(), "a\nb\n");
  write("twice/charset.txt", "a\nc\n");
  EXPECT_EQ(read_part(dir_.string(), "twice", "characters").failure().kind, "model_altered");
}

}  // namespace
}  // namespace papillote::models
