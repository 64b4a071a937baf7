// Handing on: archive files and their digests, and the check that names what changed.
#include <algorithm>
#include <filesystem>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "pipeline/image/image.h"
#include "tests/cli/program.h"

namespace papillote::cli {
namespace {

using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

std::vector<fs::path> tiffs_in(const fs::path& folder) {
  std::vector<fs::path> all;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.path().extension() == ".tif") all.push_back(entry.path());
  std::sort(all.begin(), all.end());
  return all;
}

TEST(Archive, HoldsEveryViewAndVerifyNamesWhatChanged) {
  const Scratch scratch;
  small_photographs(scratch / "p", 2, 4);
  const std::string collection = scratch / "c";
  const std::string archive = scratch / "archive";
  ASSERT_THAT(run({"process", scratch / "p", "--collection", collection, "--px-per-mm", "5"}).code, testing::AnyOf(0, 3));
  const auto index = nlohmann::json::parse(run({"export", "json", "--collection", collection}).out);
  std::size_t views = 0;
  for (const auto& photograph : index.at("photographs")) views += photograph.at("envelopes").size();
  ASSERT_GT(views, 0U);

  const Ended first = run({"archive", "--collection", collection, "--output", archive});
  ASSERT_EQ(first.code, 0) << first.err;
  const auto files = tiffs_in(archive);
  EXPECT_EQ(files.size(), views);
  const std::string bytes = read_file(files.front());
  EXPECT_TRUE(image::decode(std::as_bytes(std::span(bytes)), "a.tif").ok());
  EXPECT_THAT(bytes, HasSubstr("papillote:photographSha256"));
  const Ended second = run({"archive", "--collection", collection, "--output", archive});
  EXPECT_THAT(second.err, HasSubstr("0 archive files written"));
  EXPECT_EQ(std::system(("cd '" + archive + "' && sha256sum --quiet -c digests.sha256 >/dev/null 2>&1").c_str()), 0) << "other programs check it too";

  const std::vector<std::string> verify{"verify", "--collection", collection, "--archive", archive};
  const Ended sound = run(verify);
  EXPECT_EQ(sound.code, 0) << sound.out;
  EXPECT_EQ(sound.out, "");

  std::string altered = bytes;
  altered[altered.size() / 2] = static_cast<char>(altered[altered.size() / 2] ^ 1);
  write_file(files.front(), altered);
  fs::remove(files.back());
  write_file(scratch / "archive/stray.tif", "x");
  const std::string photograph = index.at("photographs").at(0).at("file");
  write_file(scratch / "p" / photograph, read_file(scratch / "p" / photograph) + "x");
  const Ended wrong = run(verify);
  EXPECT_EQ(wrong.code, 3);
  EXPECT_THAT(wrong.out, HasSubstr("changed   " + files.front().string()));
  ASSERT_GT(files.size(), 1U);
  EXPECT_THAT(wrong.out, HasSubstr("vanished  " + files.back().string()));
  EXPECT_THAT(wrong.out, HasSubstr("not listed " + (scratch / "archive/stray.tif").string()));
  EXPECT_THAT(wrong.out, HasSubstr("changed   " + photograph));
  write_file(scratch / "archive/digests.sha256", "nonsense\n");
  EXPECT_EQ(run(verify).code, 1);
  EXPECT_EQ(run({"verify"}).code, 2);
}

TEST(Archive, DarwinCoreExportIsTheSameBytesTwice) {
  const Scratch scratch;
  small_photographs(scratch / "p", 1, 4);
  ASSERT_THAT(run({"process", scratch / "p", "--collection", scratch / "c", "--px-per-mm", "5"}).code, testing::AnyOf(0, 3));
  const Ended one = run({"export", "dwca", "--collection", scratch / "c"});
  EXPECT_EQ(one.code, 0) << one.err;
  EXPECT_TRUE(one.out.starts_with("PK")) << "a ZIP archive";
  EXPECT_THAT(one.err, HasSubstr("about.json"));
  EXPECT_TRUE(run({"export", "dwca", "--collection", scratch / "c"}).out == one.out);
  write_file(scratch / "c/about.json", "{\"titel\": \"x\"}");
  const Ended misspelt = run({"export", "dwca", "--collection", scratch / "c"});
  EXPECT_EQ(misspelt.code, 1);
  EXPECT_THAT(misspelt.err, HasSubstr("titel"));
}

}  // namespace
}  // namespace papillote::cli
