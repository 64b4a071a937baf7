// Following from the command line: what a hand scanner types is recorded, refused and looked up.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "pipeline/record/check_character.h"
#include "tests/cli/program.h"
#include "tests/store/collection.h"

namespace papillote::cli {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

std::string numbered(int n) {
  const std::string number = fmt::format("PAP{:06}", n);
  return number + check_character(number).value();
}

class Follow : public testing::Test {
 protected:
  void SetUp() override {
    store::Store store = store::opened(collection_.path());
    std::vector<IndexRecord> records;
    for (int n = 1; n <= 4; ++n) records.push_back(store::envelope(n, store::box(200.0 * n, 10, 80, 60), "Simla", numbered(n)));
    store::keep(store, store::photograph("a.jpg", records, "7", "1"));
  }

  Ended move(std::vector<std::string> more, const std::string& scans = "") {
    std::vector<std::string> words{"move"};
    words.insert(words.end(), more.begin(), more.end());
    words.insert(words.end(), {"--who", "N. Example", "--collection", collection_.path()});
    return run(words, scans);
  }

  Ended where(std::vector<std::string> more) {
    more.insert(more.begin(), "whereabouts");
    more.insert(more.end(), {"--collection", collection_.path()});
    return run(more);
  }

  store::TemporaryFolder collection_;
};

TEST_F(Follow, RecordsWhatIsScannedAndRefusesTheRest) {
  const std::string scans =
      numbered(1) + "\r\n\n" + numbered(2) + "\n" + numbered(2) + "\nPAP0000X1\n" + numbered(9) + "\n=HYPERLINK(1)\n";
  const Ended moved = move({"housed", "--where", "drawer 12, tray 3"}, scans);
  EXPECT_EQ(moved.code, 3);
  EXPECT_THAT(moved.out, AllOf(HasSubstr(numbered(1)), HasSubstr("drawer 12, tray 3")));
  EXPECT_EQ(std::count(moved.out.begin(), moved.out.end(), '\n'), 2);
  EXPECT_THAT(moved.err, AllOf(HasSubstr("line 4:"), HasSubstr("already"), HasSubstr("line 5:"), HasSubstr("misread"),
                               HasSubstr("line 6:"), HasSubstr("line 7:"), HasSubstr("2 recorded, 4 refused")));
  EXPECT_THAT(where({numbered(1)}).out,
              AllOf(HasSubstr("housed, drawer 12, tray 3"), HasSubstr("tin 7, sheet 1"), HasSubstr("N. Example")));
  EXPECT_THAT(where({}).out, HasSubstr("envelopes or more were left alone"));
  const Ended out = where({"--out", "--csv"});
  EXPECT_EQ(std::count(out.out.begin(), out.out.end(), '\n'), 3);
}

TEST_F(Follow, RehearsesWithoutRecording) {
  const Ended dry = move({"picked", "--dry-run"}, numbered(1) + "\n" + numbered(1) + "\n");
  EXPECT_EQ(dry.code, 3);
  EXPECT_THAT(dry.err, HasSubstr("1 would be recorded, 1 refused"));
  EXPECT_THAT(where({"--out"}).out, Not(HasSubstr("PAP")));
}

TEST_F(Follow, SetsAWrongScanRightAndKeepsBoth) {
  ASSERT_EQ(move({"housed", "--where", "drawer 1", numbered(3)}).code, 0);
  EXPECT_EQ(move({"housed", "--where", "drawer 2", numbered(3)}).code, 3);
  ASSERT_EQ(move({"housed", "--where", "drawer 2", "--correct", "--note", "wrong tray", numbered(3)}).code, 0);
  EXPECT_THAT(where({numbered(3)}).out,
              AllOf(HasSubstr("drawer 1"), HasSubstr("corrects housed of "), HasSubstr(": wrong tray")));
}

TEST_F(Follow, GoesToThePlaceThatIsScanned) {
  const Ended moved =
      move({"housed"}, numbered(1) + "\nplace=drawer 9, tray 2\n" + numbered(2) + "\nplace=\x1b[2J\n" + numbered(3) + "\n");
  EXPECT_EQ(moved.code, 3);
  EXPECT_THAT(moved.err, AllOf(HasSubstr("line 1:"), HasSubstr("nowhere"), HasSubstr("line 4:"), Not(HasSubstr("\x1b"))));
  EXPECT_THAT(where({numbered(2)}).out, HasSubstr("drawer 9, tray 2"));
}

TEST_F(Follow, ReadsCodesFromAPhotograph) {
  const Scratch scratch;
  ASSERT_EQ(run({"print", "slips", "--count", "3", "-o", scratch / "slips.pdf"}).code, 0);
  const std::string pdf = scratch / "slips.pdf";
  const std::string page = scratch / "page";
  ASSERT_EQ(std::system(("pdftoppm -r 300 -png -singlefile " + pdf + " " + page).c_str()), 0);
  const Ended moved = move({"frozen", "--where", "freezer 1", "--photo", page + ".png"});
  EXPECT_EQ(moved.code, 0) << moved.err;
  for (int n = 1; n <= 3; ++n) EXPECT_THAT(moved.out, HasSubstr(numbered(n)));
  EXPECT_EQ(move({"returned", "--photo", scratch / "none.png"}).code, 1);
}

TEST_F(Follow, RefusesHiddenCharactersAndUnknownWords) {
  EXPECT_EQ(move({"juggled", numbered(1)}).code, 2);
  EXPECT_EQ(move({"picked", "--where",
                  "a\xE2\x80\xAE"
                  "b",
                  numbered(1)})
                .code,
            2);
  EXPECT_EQ(where({"PAP000001"}).code, 3);
  EXPECT_EQ(run({"move", "picked", numbered(1), "--who", "me", "--collection", "/nowhere"}).code, 1);
}

}  // namespace
}  // namespace papillote::cli
