// Envelopes photographed again, as the curator meets them: listed, printed, confirmed, refuted, taken back.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "pipeline/store/envelopes.h"
#include "pipeline/store/sameness.h"
#include "tests/cli/program.h"
#include "tests/store/collection.h"

namespace papillote::cli {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
using testing::SizeIs;

// A blank 64 by 40 portrait with a mark for every character of the text.
Portrait portrait_of(const std::string& text) {
  Portrait portrait{64, 40, std::string(64 * 40, '8'), {80, 0, 12}, 1};
  std::size_t at = 300;
  for (const char c : text) portrait.marks[(at += static_cast<std::size_t>(c)) % portrait.marks.size()] = '1';
  return portrait;
}

class AgainCommand : public testing::Test {
 protected:
  AgainCommand() {
    store::Store store = store::opened(collection());
    const auto sheet = [](const char* path, const std::vector<std::string>& texts, const std::vector<std::string>& looks,
                          const char* number) {
      std::vector<IndexRecord> records;
      for (std::size_t i = 0; i < texts.size(); ++i) {
        records.push_back(store::envelope(static_cast<int>(i), store::box(double(i) * 700, 0, 600, 400), texts[i]));
        const double side = 40 + double(looks[i].size());
        records.back().outline.size_mm = Point{side + 20, side};
        records.back().outline.crop = {
            {{{double(i) * 700, 0}, {double(i) * 700 + 600, 0}, {double(i) * 700 + 600, 400}, {double(i) * 700, 400}}},
            600,
            400};
        records.back().portrait = portrait_of(looks[i]);
      }
      return store::photograph(path, records, "7", number);
    };
    const std::string a = "Digne, Basses-Alpes 14.VII.1904", b = "Samoens, Haute-Savoie 2.VI.1911",
                      c = "Simla, Punjab, June 1906";
    keep(store, sheet("first.jpg", {a, b}, {a, b}, "1"));
    keep(store, sheet("second.jpg", {c, "Diqne, Basses-Alpes 14.VI1.1904", b}, {c, a, b}, "8"));
    first_ = store::ids_on(store, "first.jpg");
    second_ = store::ids_on(store, "second.jpg");
  }

  [[nodiscard]] fs::path collection() const { return folder_.path() / "collection"; }
  [[nodiscard]] std::string pair() const { return second_[1] + "=" + first_[0]; }

  Ended again(std::vector<std::string> more) {
    more.insert(more.begin(), {"again", "--collection", collection()});
    return run(more);
  }
  [[nodiscard]] std::string current(const std::string& id) const {
    store::Store store = store::opened(collection(), store::Access::read);
    return store::current_id(store, id).value();
  }

  store::TemporaryFolder folder_;
  std::vector<std::string> first_, second_;
};

TEST_F(AgainCommand, ListsWhatCameBackWithReasonsAndChangesNothing) {
  const Ended listed = again({});
  EXPECT_EQ(listed.code, 0) << listed.err;
  EXPECT_THAT(listed.out, AllOf(HasSubstr(pair()), HasSubstr(second_[2] + "=" + first_[1]), Not(HasSubstr(second_[0])),
                                HasSubstr("the text agrees to 9"), HasSubstr("tin 7 sheet 8 position 2 (second.jpg)")));
  const auto pairs = nlohmann::json::parse(again({"--json"}).out);
  ASSERT_THAT(pairs, SizeIs(2));
  for (const auto& each : pairs) {
    EXPECT_EQ(each.at("newer").at("photo"), "second.jpg");
    EXPECT_GT(each.at("confidence").get<double>(), 0.8);
    EXPECT_GT(each.at("likeness").at("marks").get<double>(), 0.99);
  }
  EXPECT_EQ(current(second_[1]), second_[1]);
  EXPECT_EQ(nlohmann::json::parse(again({"--json", "--tin", "8"}).out).size(), 0U);
}

TEST_F(AgainCommand, ConfirmsRefutesAndTakesBack) {
  const Ended rehearsed = again({"--confirm", pair(), "--who", "A. Curator", "--dry-run"});
  EXPECT_EQ(rehearsed.code, 0) << rehearsed.err;
  EXPECT_THAT(rehearsed.err, HasSubstr("1 would be recorded"));
  EXPECT_EQ(current(second_[1]), second_[1]);

  EXPECT_EQ(
      again({"--confirm", pair(), "--refute", second_[2] + "=" + first_[1], "--who", "A. Curator", "--note", "by eye"}).code,
      0);
  EXPECT_EQ(current(second_[1]), first_[0]);
  EXPECT_EQ(nlohmann::json::parse(again({"--json"}).out).size(), 0U) << "what is settled is asked no more";
  EXPECT_THAT(run({"status", "--collection", collection()}).out, HasSubstr("4"));
  const auto index = nlohmann::json::parse(run({"export", "json", "--collection", collection()}).out);
  EXPECT_EQ(index.at("photographs").at(1).at("envelopes").at(1).at("id"), first_[0]);

  EXPECT_EQ(again({"--take-back", pair(), "--who", "B. Curator"}).code, 0);
  EXPECT_EQ(current(second_[1]), second_[1]);
  EXPECT_THAT(again({"--settled"}).out, AllOf(HasSubstr(pair() + "  same  A. Curator"), HasSubstr("by eye"),
                                              HasSubstr(pair() + "  taken back  B. Curator")));
  EXPECT_EQ(nlohmann::json::parse(again({"--json"}).out).size(), 1U) << "asked again";
}

TEST_F(AgainCommand, TakesTheTableBackWithVerdicts) {
  std::string table = again({"--csv"}).out;
  EXPECT_THAT(table, HasSubstr("newer,earlier,confidence,verdict"));
  const auto row = table.find(second_[1]);
  ASSERT_NE(row, std::string::npos);
  table.insert(table.find(",,", row) + 1, "same");
  write_file(folder_.path() / "answers.csv", table);
  const Ended taken = again({"--answers", folder_.path() / "answers.csv", "--who", "A. Curator"});
  EXPECT_EQ(taken.code, 0) << taken.err;
  EXPECT_THAT(taken.err, HasSubstr("1 recorded")) << "rows without a verdict are left";
  EXPECT_EQ(current(second_[1]), first_[0]);
}

TEST_F(AgainCommand, RefusesWhatCannotBeAndSaysWhy) {
  for (const auto& [words, why] :
       std::vector<std::pair<std::string, std::string>>{{first_[0], "is no pair"},
                                                        {"00000000000=" + first_[0], "misread"},
                                                        {first_[1] + "=" + first_[0], "first.jpg shows both"},
                                                        {first_[0] + "=" + first_[0], "one envelope already"}}) {
    const Ended refused = again({"--confirm", words, "--who", "A. Curator"});
    EXPECT_EQ(refused.code, 1) << words;
    EXPECT_EQ(again({"--confirm", words, "--who", "A. Curator", "--dry-run"}).code, 1) << "a rehearsal says so too";
    EXPECT_THAT(refused.err, HasSubstr(why)) << words;
  }
  EXPECT_EQ(again({"--confirm", pair(), "--who", ""}).code, 1);
  EXPECT_EQ(again({"--confirm", pair(), "--who",
                   "a\xE2\x80\xAE"
                   "b"})
                .code,
            1);
  write_file(folder_.path() / "answers.csv", "newer,earlier,verdict\n" + second_[1] + "," + first_[0] + ",same\n" + second_[2] +
                                                 "," + first_[1] + ",perhaps\n");
  const Ended refused = again({"--answers", folder_.path() / "answers.csv", "--who", "A. Curator"});
  EXPECT_EQ(refused.code, 1);
  EXPECT_THAT(refused.err, HasSubstr("line 3"));
  EXPECT_EQ(current(second_[1]), second_[1]) << "all rows or none";
}

TEST_F(AgainCommand, PrintsBothSideBySideEvenWithoutThePhotographs) {
  const fs::path pdf = folder_.path() / "again.pdf";
  const Ended printed = again({"--print", pdf});
  EXPECT_EQ(printed.code, 0) << printed.err;
  EXPECT_THAT(read_file(pdf), testing::StartsWith("%PDF"));
  EXPECT_THAT(printed.err, AllOf(HasSubstr("first.jpg"), HasSubstr("second.jpg"))) << "it says whose pictures are missing";
}

}  // namespace
}  // namespace papillote::cli
