// The remembering call: what is asked twice is answered from memory, and why not when it is not.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <optional>
#include <stdexcept>
#include <vector>

#include "tests/run/files.h"

namespace papillote::run {
namespace {

using ::testing::HasSubstr;

struct Options {
  double least = 1;

  template <class Self, class Say>
  static void describe(Self& o, Say&& say) {
    say("least", o.least, About{"", "Smallest.", 0, 100});
  }
};

// Pixels that count how often they are decoded.
class FakePixels {
 public:
  FakePixels(std::string identity, int& decoded) : identity_(std::move(identity)), decoded_(decoded) {}
  [[nodiscard]] std::string_view name() const { return "pixels"; }
  [[nodiscard]] const std::string& identity() const { return identity_; }
  [[nodiscard]] const Result<std::string>& get() const {
    if (!image_) {
      ++decoded_;
      image_.emplace(identity_ == "truncated" ? Result<std::string>(Failure{"image", "truncated", "cut off", "copy it again"})
                                              : Result<std::string>("pixels of " + identity_));
    }
    return *image_;
  }

 private:
  std::string identity_;
  int& decoded_;
  mutable std::optional<Result<std::string>> image_;
};

class Steps : public ::testing::Test {
 protected:
  Steps() { write_file(folder_.path() / "a.jpg", "bytes of a"); }

  // One batch over one photograph, as far as its steps go.
  template <class Line>
  std::vector<store::Standing> batch(Line line, bool retry_failed = false, const std::string& path = "a.jpg") {
    store::Store store = store::opened(folder_.path() / "collection");
    store::KnownPhotograph known;
    {
      store::Transaction transaction(store);
      known = store::take_up(store, folder_.path().string(), {path})[0];
      transaction.commit();
    }
    Budget budget(100);
    Writer writer(store);
    store::Store reader = store::opened(folder_.path() / "collection", store::Access::read);
    Photograph photograph = std::move(Photograph::open(folder_.path(), known, true, budget)).value();
    Step step(photograph, reader, writer, retry_failed);
    line(photograph, step);
    as_before_ = step.as_before();
    writer.put([&](store::Store& s) { store::keep_standing(s, known.key, step.standing()); });
    writer.settle();
    return step.standing();
  }

  static std::string reason_of(const std::vector<store::Standing>& standing, const std::string& stage) {
    for (const store::Standing& step : standing)
      if (step.stage == stage) return step.reason;
    return "not asked";
  }

  store::TemporaryFolder folder_;
  bool as_before_ = false;
};

Result<std::string> same(const std::string& text) { return text; }

TEST_F(Steps, RunOnceAndAnswerFromMemoryAfterwards) {
  int runs = 0;
  int decoded = 0;
  const auto read = [&](std::span<const std::byte> bytes) {
    ++runs;
    return Result<std::string>(text_of(bytes));
  };
  const auto measure = [&](const std::string& text, const std::string& pixels, const Options& options) {
    ++runs;
    return Result<double>((static_cast<double>(text.size() + pixels.size()) + options.least) / 3);
  };
  const auto line = [&](Photograph& photograph, Step& step) {
    const auto text = step(Stage{"first", 1}, NoOptions{}, read, photograph.file());
    const FakePixels pixels("p1", decoded);
    const auto third = step(Stage{"second", 1}, Options{}, measure, text, pixels);
    EXPECT_EQ(*text, "bytes of a");
    EXPECT_EQ(*third, 7.666667) << "fresh and remembered answers are equal to the last digit";  // (10 + 12 + 1) / 3
  };
  EXPECT_THAT(reason_of(batch(line), "second"), HasSubstr("first time"));
  EXPECT_FALSE(as_before_);
  batch(line);
  EXPECT_TRUE(as_before_);
  EXPECT_EQ(runs, 2);
  EXPECT_EQ(decoded, 1) << "a known photograph is not decoded";
}

TEST_F(Steps, SayWhyTheyRun) {
  const auto line = [](int version, double least, const std::string& outside) {
    return [=](Photograph&, Step& step) {
      const auto append = [](const std::string& o, const Options& options) {
        return Result<std::string>(o + std::to_string(options.least));
      };
      const auto first = step(Stage{"first", version}, Options{least}, append, given("outside", outside));
      (void)step(Stage{"second", 1}, NoOptions{}, same, first);
    };
  };
  batch(line(1, 1, "x"));
  EXPECT_THAT(reason_of(batch(line(1, 2, "x")), "first"), HasSubstr("option least changed from 1.0 to 2.0"));
  EXPECT_THAT(reason_of(batch(line(1, 3, "x")), "second"), HasSubstr("first changed"));
  EXPECT_THAT(reason_of(batch(line(2, 3, "x")), "first"), HasSubstr("version changed from 1 to 2"));
  EXPECT_THAT(reason_of(batch(line(2, 3, "y")), "first"), HasSubstr("outside changed"));
}

TEST_F(Steps, StopTheWaveWhereARedoneAnswerIsEqual) {
  int later = 0;
  const auto count = [&](const std::string& text) {
    ++later;
    return Result<std::string>(text);
  };
  const auto line = [&](int version) {
    return [&count, version](Photograph&, Step& step) {
      const std::string outside = "x";
      const auto first = step(Stage{"first", version}, NoOptions{}, same, given("outside", outside));
      EXPECT_TRUE(first.ran());
      (void)step(Stage{"second", 1}, NoOptions{}, count, first);
    };
  };
  batch(line(1));
  batch(line(2));
  EXPECT_EQ(later, 1);
}

TEST_F(Steps, RememberFailuresUntilAskedToRetry) {
  int runs = 0;
  const auto fail = [&](std::span<const std::byte>) -> Result<std::string> {
    ++runs;
    return Failure{"first", "no_scale", "a.jpg: no scale.", "Lay the card into the frame."};
  };
  const auto line = [&](Photograph& photograph, Step& step) {
    const auto first = step(Stage{"first", 1}, NoOptions{}, fail, photograph.file());
    const auto second = step(Stage{"second", 1}, NoOptions{}, same, first);
    const auto third = step(Stage{"third", 1}, NoOptions{}, same, second);
    EXPECT_EQ(third.get().failure().kind, "not_run");
    EXPECT_EQ(third.get().failure().reason, "Not run, because first failed.");
    EXPECT_EQ(third.get().failure().remedy, "Lay the card into the frame.");
    EXPECT_EQ(third.root_failure()->kind, "no_scale");
  };
  EXPECT_EQ(batch(line).size(), 1U) << "nothing is recorded against steps that were not run";
  batch(line);
  EXPECT_EQ(runs, 1);
  batch(line, true);
  EXPECT_EQ(runs, 2);
}

TEST_F(Steps, FenceInWhateverAStageThrows) {
  const auto broken = [](const std::string&) -> Result<std::string> { throw std::runtime_error("broken"); };
  const auto odd = [](const std::string&) -> Result<std::string> { throw 7; };
  batch([&](Photograph&, Step& step) {
    const std::string x = "x";
    const auto first = step(Stage{"first", 1}, NoOptions{}, broken, given("x", x));
    EXPECT_EQ(first.get().failure().kind, "internal");
    EXPECT_THAT(first.get().failure().reason, HasSubstr("a.jpg"));
    EXPECT_THAT(first.get().failure().reason, HasSubstr("broken"));
    EXPECT_EQ(step(Stage{"second", 1}, NoOptions{}, odd, given("x", x)).get().failure().kind, "internal");
  });
}

TEST_F(Steps, RememberThatPixelsCannotBeDecoded) {
  int decoded = 0;
  const auto line = [&](Photograph&, Step& step) {
    const FakePixels pixels("truncated", decoded);
    EXPECT_EQ(step(Stage{"first", 1}, NoOptions{}, same, pixels).root_failure()->kind, "truncated");
  };
  batch(line);
  batch(line);
  EXPECT_EQ(decoded, 1);
}

TEST_F(Steps, KeepTheOthersWhenOneOfEachFails) {
  const auto three = [](int) { return Result<std::vector<int>>(std::vector{1, 2, 3}); };
  const auto halve = [](int n) -> Result<double> {
    if (n == 2) return Failure{"halves", "even", "no", "no"};
    if (n == 3) throw std::runtime_error("three");
    return n / 2.0;
  };
  const auto join = [](int n, double half) { return Result<std::string>(fmt::format("{}/{}", n, half)); };
  const auto line = [&](Photograph&, Step& step) {
    const int zero = 0;
    const auto all = step(Stage{"all", 1}, NoOptions{}, three, given("zero", zero));
    const auto halves = step(Stage{"halves", 1}, NoOptions{}, halve, each_of(all));
    const auto words = step(Stage{"words", 1}, NoOptions{}, join, each_of(all), each_of(halves));
    ASSERT_EQ(words->size(), 3U);
    EXPECT_EQ(words->at(0).value(), "1/0.5");
    EXPECT_EQ(words->at(1).failure().kind, "even");
    EXPECT_EQ(words->at(2).failure().kind, "internal");
  };
  batch(line);
  batch(line);
  EXPECT_TRUE(as_before_);
}

TEST_F(Steps, ARenamedFileKeepsItsAnswers) {
  int runs = 0;
  const auto enrol = [](const std::string& path, std::span<const std::byte> bytes) {
    Photo made;
    made.path = path;
    made.sha256 = digest_of(bytes);
    return Result<Photo>(made);
  };
  const auto count = [&](const Photo&) { return Result<int>(++runs); };
  const auto line = [&](Photograph& photograph, Step& step) {
    const std::string path = photograph.path();
    const auto photo = step(Stage{"registration", 1}, NoOptions{}, enrol, given("path", path), photograph.file());
    EXPECT_EQ(photo->path, path);
    (void)step(Stage{"second", 1}, NoOptions{}, count, photo);
  };
  batch(line);
  write_file(folder_.path() / "tin" / "b.jpg", "bytes of a");
  batch(line, false, "tin/b.jpg");
  EXPECT_EQ(runs, 1);
}

TEST_F(Steps, ForgetThatAFileWasOutOfReach) {
  const auto read = [](std::span<const std::byte> bytes) { return Result<std::string>(text_of(bytes)); };
  // A known photograph, whose bytes are read only when a step needs them.
  const auto known = [&] {
    store::KnownPhotograph one;
    one.path = "a.jpg";
    Budget budget(1);
    const Photograph looked_at = std::move(Photograph::open(folder_.path(), one, true, budget)).value();
    one.sha256 = looked_at.sha256();
    one.facts = looked_at.facts();
    return one;
  }();
  const std::filesystem::path file = folder_.path() / "a.jpg";
  for (const std::string how : {"gone", "replaced", "there"}) {
    const auto kept = batch([&](Photograph&, Step& step) {
      Budget budget(1);
      Photograph photograph = std::move(Photograph::open(folder_.path(), known, false, budget)).value();
      if (how != "there") std::filesystem::rename(file, folder_.path() / "away.jpg");
      if (how == "replaced") write_file(file, "other bytes");
      const auto text = step(Stage{"first", 1}, NoOptions{}, read, photograph.file());
      if (how == "there") {
        EXPECT_EQ(*text, "bytes of a");
      } else {
        EXPECT_EQ(text.root_failure()->stage, kFile);
        EXPECT_EQ(text.root_failure()->kind, how == "gone" ? "unreadable" : "changed");
        std::filesystem::rename(folder_.path() / "away.jpg", file);
      }
    });
    EXPECT_EQ(kept.size(), how == "there" ? 1U : 0U) << how;
  }
}

}  // namespace
}  // namespace papillote::run
