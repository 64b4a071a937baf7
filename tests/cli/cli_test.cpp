// Commands as their user meets them: bad input gets a sentence that names it, the batch goes on, the exit code is the documented one.
#include <filesystem>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

using testing::HasSubstr;


constexpr int kAllDone = 0, kCannotGoOn = 1, kWrongCommand = 2, kSomeFailed = 3;

TEST(CommandLine, SaysWhatIsWrongWithACommandAndTouchesNothing) {
  const Scratch scratch;
  EXPECT_EQ(run({}).code, kWrongCommand);
  const Ended misspelt = run({"serach", "x"});
  EXPECT_EQ(misspelt.code, kWrongCommand);
  EXPECT_THAT(misspelt.err, HasSubstr("Did you mean 'search'"));
  const Ended unknown = run({"process", scratch / "p", "--collection", scratch / "c", "--colour", "blue"});
  EXPECT_EQ(unknown.code, kWrongCommand);
  EXPECT_THAT(unknown.err, HasSubstr("--colour"));
  const Ended range = run({"process", scratch / "p", "--collection", scratch / "c", "--jobs", "0"});
  EXPECT_EQ(range.code, kWrongCommand);
  const Ended period = run({"process", scratch / "p", "--collection", scratch / "c", "--period", "long ago"});
  EXPECT_EQ(period.code, kWrongCommand);
  EXPECT_THAT(period.err, HasSubstr("1895/1904"));
  EXPECT_FALSE(std::filesystem::exists(scratch / "c"));
  EXPECT_EQ(run({"--help"}).code, kAllDone);
  EXPECT_EQ(run({"process", "--help"}).code, kAllDone);
}

TEST(CommandLine, NamesAFolderThatIsNotThereAndOneWithoutPhotographs) {
  const Scratch scratch;
  const Ended nowhere = run({"process", scratch / "nowhere", "--collection", scratch / "c"});
  EXPECT_EQ(nowhere.code, kCannotGoOn);
  EXPECT_THAT(nowhere.err, HasSubstr("nowhere"));
  std::filesystem::create_directory(scratch / "empty");
  const Ended empty = run({"process", scratch / "empty", "--collection", scratch / "c"});
  EXPECT_EQ(empty.code, kCannotGoOn);
  EXPECT_THAT(empty.err, HasSubstr("empty"));
  EXPECT_EQ(run({"search", "x", "--collection", scratch / "no-collection"}).code, kCannotGoOn);
}

TEST(CommandLine, GoesOnPastBadPhotographsAndNamesEachOne) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 3);
  std::string good;
  for (const auto& entry : std::filesystem::directory_iterator(scratch / "p")) good = read_file(entry.path());
  write_file(scratch / "p/zero.jpg", "");
  write_file(scratch / "p/words.jpg", "this is not a photograph");
  write_file(scratch / "p/cut.jpg", good.substr(0, good.size() / 2));
  write_file(scratch / "p/header-only.tif", std::string("II*\0\x08\0\0\0", 8));
  const Ended batch = run({"process", scratch / "p", "--collection", scratch / "c", "--px-per-mm", "5"});
  EXPECT_EQ(batch.code, kSomeFailed) << batch.err;
  const Ended failures = run({"failures", "--collection", scratch / "c"});
  for (const char* name : {"zero.jpg", "words.jpg", "cut.jpg", "header-only.tif"}) {
    EXPECT_THAT(batch.err, HasSubstr(name));
    EXPECT_THAT(failures.out, HasSubstr(name));
  }
  const Ended index = run({"export", "json", "--collection", scratch / "c"});
  const auto photographs = nlohmann::json::parse(index.out).at("photographs");
  bool found = false;
  for (const auto& photograph : photographs) found = found || !photograph.at("envelopes").empty();
  EXPECT_TRUE(found) << "the good photograph must be indexed all the same";
}

TEST(CommandLine, DoesNothingTwice) {
  const Scratch scratch;
  small_photographs(scratch / "p", 2, 3);
  const std::vector<std::string> process{"process", scratch / "p", "--collection", scratch / "c", "--px-per-mm", "5"};
  const Ended first = run(process);
  EXPECT_THAT(first.err, HasSubstr("2 worked on"));
  const Ended before = run({"export", "json", "--collection", scratch / "c"});
  const Ended second = run(process);
  EXPECT_EQ(second.code, first.code);
  EXPECT_THAT(second.err, HasSubstr("0 worked on, 2 already known"));
  EXPECT_TRUE(run({"export", "json", "--collection", scratch / "c"}).out == before.out);
}

// The form of the export is what other programs read: its fields, not their values.
TEST(CommandLine, ExportsTheDocumentedForm) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 2);
  ASSERT_THAT(run({"process", scratch / "p", "--collection", scratch / "c", "--px-per-mm", "7"}).code, testing::AnyOf(0, 3));
  const auto index = nlohmann::json::parse(run({"export", "json", "--collection", scratch / "c"}).out);
  const auto& photograph = index.at("photographs").at(0);
  for (const char* key : {"file", "sha256", "tin", "sheet", "side", "px_per_mm", "quality", "envelopes"}) EXPECT_TRUE(photograph.contains(key)) << key;
  EXPECT_TRUE(photograph.at("quality").contains("verdict"));
  ASSERT_FALSE(photograph.at("envelopes").empty());
  const auto& envelope = photograph.at("envelopes").at(0);
  for (const char* key : {"id", "polygon_px", "crop_px", "size_mm", "confidence", "lines", "text", "date", "place", "collector", "elevation_m",
                          "coordinates", "taxon", "sex", "type_status", "findings", "priority"})
    EXPECT_TRUE(envelope.contains(key)) << key;
  EXPECT_EQ(envelope.at("crop_px").size(), 4U);
  EXPECT_TRUE(envelope.at("priority").contains("level"));
}

TEST(CommandLine, PrintsWhatIsAskedAndRecordsWhatIsPicked) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 2);
  ASSERT_THAT(run({"process", scratch / "p", "--collection", scratch / "c", "--px-per-mm", "7"}).code, testing::AnyOf(0, 3));
  const auto is_pdf = [&](const std::string& name) { return read_file(scratch / name).starts_with("%PDF-"); };
  for (const char* what : {"map", "found"}) {
    EXPECT_EQ(run({"print", what, "--collection", scratch / "c", "-o", scratch / (std::string(what) + ".pdf")}).code, kAllDone);
    EXPECT_TRUE(is_pdf(std::string(what) + ".pdf")) << what;
  }
  EXPECT_EQ(run({"print", "map", "--tin", "no such tin", "--collection", scratch / "c", "-o", scratch / "none.pdf"}).code, kWrongCommand);
  EXPECT_EQ(run({"plan", "--collection", scratch / "c", "-o", scratch / "plan.pdf"}).code, kAllDone);
  EXPECT_TRUE(is_pdf("plan.pdf"));

  const std::vector<std::string> pick{"pick", "--collection", scratch / "c", "-o", scratch / "pick.pdf", "--limit", "2", "--who", "N. Example"};
  auto rehearsed = pick;
  rehearsed.push_back("--dry-run");
  EXPECT_THAT(run(rehearsed).err, HasSubstr("0 recorded as picked"));
  EXPECT_THAT(run(pick).err, HasSubstr("2 recorded as picked"));
  EXPECT_TRUE(is_pdf("pick.pdf"));
  EXPECT_FALSE(read_file(scratch / "pick.csv").empty());
  EXPECT_THAT(run(pick).err, HasSubstr("0 recorded as picked"));  // out already
  EXPECT_EQ(run({"alike", "--collection", scratch / "c"}).code, kAllDone);
}

}  // namespace
}  // namespace papillote::cli
