// Corrections from a table, bags, backups and their verification, as their user meets them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "pipeline/store/decisions.h"
#include "tests/cli/program.h"
#include "tests/store/collection.h"

namespace papillote::cli {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

class Keeping : public testing::Test {
 protected:
  Keeping() {
    fs::create_directories(photographs());
    store::Store store = store::opened(collection());
    for (const char* name : {"a.jpg", "b.jpg"}) {
      write_file(photographs() / name, std::string("bytes of ") + name);
      PhotoIndex index = store::photograph(
          name, {store::envelope(1, store::box(10, 10, 80, 60), "Simla"), store::envelope(2, store::box(210, 10, 80, 60))}, "7",
          "1");
      index.photo.sha256 = digest_of(std::string("bytes of ") + name);
      index.envelopes[0].interpretation.date.emplace();
      index.envelopes[0].interpretation.date->value = "1906-06";
      store::Transaction transaction(store);
      const auto known = store::take_up(store, photographs().string(), {name});
      store::keep_facts(store, known[0].key, {1, 1}, index.photo.sha256);
      store::replace_index(store, known[0].key, name, {index, {}, std::nullopt});
      transaction.commit();
    }
    ids_ = store::ids_on(store, "a.jpg");
  }

  [[nodiscard]] fs::path collection() const { return folder_.path() / "collection"; }
  [[nodiscard]] fs::path photographs() const { return folder_.path() / "photographs"; }

  Ended correct(const std::string& csv, std::vector<std::string> more = {}) {
    write_file(folder_.path() / "table.csv", csv);
    std::vector<std::string> words{"correct",   folder_.path() / "table.csv", "--who", "N. Example", "--collection",
                                   collection()};
    words.insert(words.end(), more.begin(), more.end());
    return run(words);
  }

  std::vector<store::Decision> decided(const std::string& id) {
    store::Store store = store::opened(collection(), store::Access::read);
    return store::decisions_of(store, id);
  }

  store::TemporaryFolder folder_;
  std::vector<std::string> ids_;
};

TEST_F(Keeping, TakesATableOfCorrectionsWhole) {
  const std::string table = "id,term,value,who,note,was,country,latitude,longitude,uncertainty_m\r\n" + ids_[0] +
                            ",date,1906-06-12,,,1906-06\r\n" + ids_[0] +
                            ",place,Simla,A. Curator,by the map,,IN,31.1,77.17,5000\r\n" + ids_[0] + ",text,'=1+1,,,Simla\r\n" +
                            ids_[1] + ",elevation,1600-1700\r\n" + ids_[1] + ",collector,(none)\r\n";
  const Ended rehearsed = correct(table, {"--dry-run"});
  EXPECT_EQ(rehearsed.code, 0) << rehearsed.err;
  EXPECT_THAT(rehearsed.err, HasSubstr("5 corrections would be recorded"));
  EXPECT_THAT(rehearsed.out, HasSubstr("1906-06 -> 1906-06-12"));
  EXPECT_TRUE(decided(ids_[0]).empty());
  EXPECT_EQ(correct(table).code, 0);
  const auto first = decided(ids_[0]);
  ASSERT_EQ(first.size(), 3U);
  EXPECT_EQ(first[0].term, "date");
  EXPECT_EQ(first[0].days, (store::DayRange{-23214, -23214}));  // days before 1970-01-01
  EXPECT_EQ(first[1].who, "A. Curator");
  EXPECT_EQ(first[2].value, "\"=1+1\"");  // the apostrophe against formulas is gone again
  EXPECT_EQ(decided(ids_[1]).size(), 2U);
  EXPECT_EQ(correct("id,term,value\n" + ids_[0] + ",date,(take back)\n").code, 0);
  EXPECT_EQ(decided(ids_[0]).size(), 2U);
}

TEST_F(Keeping, NamesEveryBadRowAndChangesNothing) {
  const std::string table =
      "id,term,value,was,latitude,longitude,uncertainty_m\n" + ids_[0] + ",taxon,Vanessa atalanta\n" +  // good
      "00000000000,date,1906\n" + ids_[0] + ",date,sometime\n" + ids_[0] + ",colour,blue\n" + ids_[0] + ",place,Simla\n" +
      ids_[0] + ",place,Simla,,95,10,5\n" + ids_[0] + ",date,1906-06-13,1905\n" + ids_[0] + ",collector,\n" + ids_[0] +
      ",collector,a\xE2\x80\xAE"
      "b\n" +
      ids_[0] + ",taxon,Vanessa cardui\n" + ids_[0] + ",elevation,high\n<script>,text,x\n";
  const Ended refused = correct(table);
  EXPECT_EQ(refused.code, 1);
  for (int line = 3; line <= 13; ++line) EXPECT_THAT(refused.err, HasSubstr(fmt::format("line {}:", line)));
  EXPECT_THAT(refused.err, AllOf(HasSubstr("11 rows cannot be taken; nothing was recorded"), HasSubstr("rests on \"1905\""),
                                 Not(HasSubstr("\xE2\x80\xAE"))));
  EXPECT_TRUE(decided(ids_[0]).empty());
  for (const char* none : {"", "id,term\n", "id,term,value,colour\n", "id,id,term,value\n", "\xff\xfe\n"})
    EXPECT_EQ(correct(none).code, 1) << none;
}

TEST_F(Keeping, BacksUpAndVerifiesTheCollection) {
  write_file(collection() / "about.json", "{\"title\": \"Tins\"}");
  const std::string copy = folder_.path() / "copy";
  EXPECT_EQ(run({"backup", "--collection", collection(), "-o", copy}).code, 0);
  EXPECT_EQ(read_file(fs::path(copy) / "about.json"), "{\"title\": \"Tins\"}");
  EXPECT_EQ(run({"verify", "--collection", collection(), "--archive", copy}).code, 0);
  EXPECT_EQ(run({"status", "--collection", copy}).code, 0);
  EXPECT_EQ(run({"backup", "--collection", collection(), "-o", copy}).code, 1);  // nothing old is lost
  EXPECT_EQ(run({"backup", "--collection", collection(), "-o", collection() / "inside"}).code, 0);
  EXPECT_FALSE(fs::exists(collection() / "inside/inside"));
  write_file(fs::path(copy) / "about.json", "{}");
  write_file(photographs() / "a.jpg", "other bytes");
  fs::remove(photographs() / "b.jpg");
  const Ended wrong = run({"verify", "--collection", collection(), "--archive", copy});
  EXPECT_EQ(wrong.code, 3);
  EXPECT_THAT(wrong.out, AllOf(HasSubstr("changed"), HasSubstr("a.jpg"), HasSubstr("vanished"), HasSubstr("b.jpg"),
                               HasSubstr("about.json")));
}

TEST_F(Keeping, PacksABagThatCanBeGoneOnWithAndTold) {
  const fs::path bag = folder_.path() / "bag";
  const Ended packed = run({"bag", "--collection", collection(), "-o", bag});
  EXPECT_EQ(packed.code, 0) << packed.err;
  EXPECT_EQ(read_file(bag / "data/photographs/a.jpg"), "bytes of a.jpg");
  for (const char* file : {"index.json", "index.csv", "dwca.zip", "datapackage.zip", "papillote.sqlite"})
    EXPECT_TRUE(fs::exists(bag / "data/index" / file)) << file;
  EXPECT_EQ(run({"verify", "--bag", bag}).code, 0);
  // By another program, which knows nothing of bags.
  EXPECT_EQ(
      std::system(
          ("cd " + bag.string() + " && sha256sum --quiet --strict -c manifest-sha256.txt tagmanifest-sha256.txt").c_str()),
      0);
  // As a run that was killed leaves it: no manifest, half a file beside its place, one changed.
  fs::remove(bag / "manifest-sha256.txt");
  write_file(bag / "data/photographs/.a.jpg.AbCdEf", "half");
  write_file(bag / "data/photographs/b.jpg", "damaged");
  const Ended again = run({"bag", "--collection", collection(), "-o", bag});
  EXPECT_EQ(again.code, 0) << again.err;
  EXPECT_THAT(again.err, HasSubstr("1 originals copied, 1 were there already"));
  EXPECT_FALSE(fs::exists(bag / "data/photographs/.a.jpg.AbCdEf"));
  EXPECT_EQ(run({"verify", "--bag", bag}).code, 0);
  write_file(bag / "data/photographs/b.jpg", "damaged");
  const Ended wrong = run({"verify", "--bag", bag});
  EXPECT_EQ(wrong.code, 3);
  EXPECT_THAT(wrong.out, HasSubstr("b.jpg changed"));
  EXPECT_EQ(run({"verify", "--bag", folder_.path()}).code, 1);
}

TEST_F(Keeping, PacksWhatCanBeHadAndSaysWhatCannot) {
  fs::remove(photographs() / "b.jpg");
  const Ended packed = run({"bag", "--collection", collection(), "-o", folder_.path() / "bag"});
  EXPECT_EQ(packed.code, 3);
  EXPECT_THAT(packed.err, AllOf(HasSubstr("b.jpg"), HasSubstr("1 could not be had")));
}

}  // namespace
}  // namespace papillote::cli
