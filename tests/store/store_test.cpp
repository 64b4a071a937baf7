// The store file itself: opening, refusing, one writer, nothing half written.
#include <SQLiteCpp/SQLiteCpp.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <fstream>
#include <iostream>
#include <random>
#include <thread>

#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/results.h"
#include "pipeline/store/search.h"
#include "tests/store/collection.h"

namespace papillote::store {
namespace {

using ::testing::HasSubstr;

void expect_refused(const std::filesystem::path& collection, Access access, const std::string& kind) {
  const Result<Store> store = Store::open(collection, access);
  ASSERT_FALSE(store.ok());
  EXPECT_EQ(store.failure().kind, kind) << store.failure().reason;
  EXPECT_THAT(store.failure().reason, HasSubstr(collection.string()));
  EXPECT_NE(store.failure().remedy, "");
}

PhotoIndex small_sheet(const std::string& path, int envelopes = 20) {
  std::vector<IndexRecord> records;
  for (int i = 0; i < envelopes; ++i)
    records.push_back(envelope(i, box(i * 500, 0, 400, 300), fmt::format("Simla {} {}", path, i)));
  return photograph(path, std::move(records), "7", "1");
}

TEST(Opening, MakesACollectionOnlyForABatch) {
  const TemporaryFolder folder;
  expect_refused(folder.path(), Access::read, "no_collection");
  expect_refused(folder.path() / "new", Access::desk, "no_collection");
  EXPECT_TRUE(Store::open(folder.path() / "new", Access::batch).ok());
  EXPECT_TRUE(Store::open(folder.path() / "new", Access::read).ok());
}

TEST(Opening, ASecondBatchIsBusyButPeopleMayWork) {
  const TemporaryFolder folder;
  {
    const Store first = opened(folder.path());
    expect_refused(folder.path(), Access::batch, "busy");
    EXPECT_TRUE(Store::open(folder.path(), Access::desk).ok());
    EXPECT_TRUE(Store::open(folder.path(), Access::read).ok());
  }
  EXPECT_TRUE(Store::open(folder.path(), Access::batch).ok());
}

TEST(Opening, RefusesANewerStore) {
  const TemporaryFolder folder;
  { const Store store = opened(folder.path()); }
  SQLite::Database((folder.path() / "papillote.sqlite").string(), SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 99");
  for (const Access access : {Access::read, Access::desk, Access::batch}) expect_refused(folder.path(), access, "newer_store");
}

// As the version before kept it: days in the box of places.
TEST(Opening, BringsAnOlderStoreUpToDate) {
  const TemporaryFolder folder;
  {
    Store store = opened(folder.path());
    PhotoIndex sheet = small_sheet("a.jpg", 3);
    for (IndexRecord& record : sheet.envelopes) {
      record.interpretation.place.emplace();
      record.interpretation.place->value = Place{"Shimla", "", "IN", 31.1, 77.17, 5000};
      record.interpretation.date.emplace();
    }
    keep(store, Outcome{sheet, {DayRange{-26'000, -25'990}, DayRange{kNoFirstDay, -25'000}, std::nullopt}, {}});
  }
  {
    SQLite::Database older((folder.path() / "papillote.sqlite").string(), SQLite::OPEN_READWRITE);
    older.exec("DROP TABLE search_box");
    older.exec("CREATE VIRTUAL TABLE search_box USING rtree(envelope, lat_least, lat_most, lon_least, lon_most, first_day, last_day)");
    older.exec("INSERT INTO search_box SELECT envelope, lat_deg, lat_deg, lon_deg, lon_deg, coalesce(first_day, -8000000), "
               "coalesce(last_day, -8000000) FROM search_row");
    older.exec(fmt::format("PRAGMA user_version = {}", kStoreVersion - 1));
  }
  expect_refused(folder.path(), Access::read, "older_store");
  Store store = opened(folder.path());
  Question question;
  question.near = Near{31.2, 77.2, 20};
  EXPECT_EQ(count(store, question), 3);
  question.period = DayRange{-25'991, -25'980};
  EXPECT_EQ(count(store, question), 2) << "the one without a date is not of this time";
  question.period = DayRange{-26'010, -26'001};
  EXPECT_EQ(count(store, question), 1);
}

TEST(Opening, RefusesWhatIsNotAStore) {
  const TemporaryFolder folder;
  std::ofstream(folder.path() / "papillote.sqlite") << std::string(20'000, 'x');
  for (const Access access : {Access::read, Access::batch}) expect_refused(folder.path(), access, "damaged");
  const TemporaryFolder other;
  SQLite::Database((other.path() / "papillote.sqlite").string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE)
      .exec("CREATE TABLE mine(a)");
  for (const Access access : {Access::read, Access::batch}) expect_refused(other.path(), access, "damaged");
}

TEST(Opening, RefusesADamagedStoreBeforeWritingToIt) {
  const TemporaryFolder folder;
  {
    Store store = opened(folder.path());
    for (int i = 0; i < 20; ++i) keep(store, small_sheet(fmt::format("{}.jpg", i)));
  }
  const std::filesystem::path file = folder.path() / "papillote.sqlite";
  const auto size = static_cast<std::streamoff>(std::filesystem::file_size(file));
  ASSERT_GT(size, 300'000);
  {
    std::fstream edit(file, std::ios::in | std::ios::out | std::ios::binary);
    edit.seekp(size / 2);
    edit << std::string(40'000, '\xA5');
  }
  expect_refused(folder.path(), Access::batch, "damaged");
  EXPECT_THAT(Store::open(folder.path(), Access::batch).failure().remedy, HasSubstr("recover"));
}

TEST(Opening, RefusesACutOffStore) {
  const TemporaryFolder folder;
  {
    Store store = opened(folder.path());
    for (int i = 0; i < 5; ++i) keep(store, small_sheet(fmt::format("{}.jpg", i)));
  }
  const std::filesystem::path file = folder.path() / "papillote.sqlite";
  std::filesystem::resize_file(file, std::filesystem::file_size(file) / 2);
  expect_refused(folder.path(), Access::batch, "damaged");
}

TEST(Transactions, RollBackUnlessCommitted) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  {
    const Transaction transaction(store);
    keep_answer(store, {"k"}, "calibration", R"({"value":1})", {"d"});
  }
  EXPECT_FALSE(find_answer(store, {"k"}));
  {
    Transaction transaction(store);
    keep_answer(store, {"k"}, "calibration", R"({"value":1})", {"d"});
    transaction.commit();
  }
  ASSERT_TRUE(find_answer(store, {"k"}));
  EXPECT_EQ(find_answer(store, {"k"})->body, R"({"value":1})");
}

TEST(Transactions, AnOutcomeEqualToTheLastChangesNothing) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, small_sheet("a.jpg"));
  SQLite::Database look((folder.path() / "papillote.sqlite").string());
  const auto entries = [&] { return look.execAndGet("SELECT max(rowid) FROM entry").getInt64(); };
  const auto before = entries();
  keep(store, small_sheet("a.jpg"));
  EXPECT_EQ(entries(), before) << "rows were written again";
  keep(store, small_sheet("a.jpg", 19));
  EXPECT_EQ(find_photograph(store, "a.jpg")->index.envelopes.size(), 19U);
}

// SIGKILL at random moments of writing: a photograph is there whole or not at all, and the search agrees with the index.
TEST(Killed, InTheMiddleOfATransactionLeavesWholePhotographs) {
  std::mt19937 random(3);
  std::uniform_int_distribution<int> moment_us(0, 120'000);
  int in_the_middle = 0;
  const TemporaryFolder folder;
  { const Store store = opened(folder.path()); }
  for (int round = 0; round < 60; ++round) {
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      Store store = opened(folder.path());
      for (int i = 0;; ++i) keep(store, small_sheet(fmt::format("{}.jpg", i % 50), 5 + (round + i) % 16));
    }
    std::this_thread::sleep_for(std::chrono::microseconds(moment_us(random)));
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);

    Result<Store> store = Store::open(folder.path(), Access::batch);
    ASSERT_TRUE(store.ok()) << store.failure().reason;
    ASSERT_EQ(faults(*store), std::vector<std::string>{});
    int envelopes = 0;
    for_each_photograph(*store, [&](const IndexedPhotograph& photograph) {
      ++in_the_middle;
      EXPECT_GE(photograph.index.envelopes.size(), 5U);
      envelopes += static_cast<int>(photograph.index.envelopes.size());
      Question question;
      question.words = photograph.index.photo.path;
      question.near_misses = false;
      // "3.jpg" asks for the words "3" and "jpg": every envelope of the photograph, and those that are number 3.
      EXPECT_GE(count(*store, question), static_cast<int>(photograph.index.envelopes.size()));
    });
    Question all;
    EXPECT_EQ(count(*store, all), envelopes);
  }
  EXPECT_GT(in_the_middle, 100) << "the killed programs never wrote anything";
}

TEST(Disk, FullIsSaidAndNothingIsLost) {
  const TemporaryFolder folder;
  if (::mount("tmpfs", folder.path().c_str(), "tmpfs", 0, "size=2m") != 0) {
    std::cout << "skipped: a small file system cannot be mounted here\n";
    return;
  }
  {
    Store store = opened(folder.path());
    keep(store, small_sheet("first.jpg"));
    bool full = false;
    for (int i = 0; i < 1000 && !full; ++i) {
      try {
        keep(store, small_sheet(fmt::format("{}.jpg", i), 200));
      } catch (const Trouble& trouble) {
        full = true;
        EXPECT_EQ(trouble.failure.kind, "disk_full") << trouble.failure.reason;
        EXPECT_THAT(trouble.failure.remedy, HasSubstr("again"));
      }
    }
    EXPECT_TRUE(full);
    EXPECT_EQ(find_photograph(store, "first.jpg")->index.envelopes.size(), 20U);
  }
  ::umount(folder.path().c_str());
}

TEST(People, WriteWhatIsNeverChanged) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, small_sheet("a.jpg"));
  const std::string id = ids_on(store, "a.jpg")[0];
  decide(store, {id, "taxon", "\"Vanessa atalanta\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  ASSERT_TRUE(record_movements(store, {{id, "picked", "me", "2026-01-02T10:00:00Z", "tin 7", ""}}).ok());
  SQLite::Database raw((folder.path() / "papillote.sqlite").string(), SQLite::OPEN_READWRITE);
  for (const char* sql : {"DELETE FROM decision", "UPDATE decision SET value = '1'", "DELETE FROM movement",
                          "UPDATE movement SET kind = 'housed'"})
    EXPECT_THROW(raw.exec(sql), SQLite::Exception) << sql;
  EXPECT_EQ(history_of(store, id).size(), 1U);
}

TEST(People, DecideWhileABatchHoldsTheStore) {
  const TemporaryFolder folder;
  Store batch = opened(folder.path());
  keep(batch, small_sheet("a.jpg"));
  const std::string id = ids_on(batch, "a.jpg")[3];
  Store desk = opened(folder.path(), Access::desk);
  decide(desk, {id, "taxon", "\"Vanessa atalanta\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  keep(batch, small_sheet("a.jpg", 18));
  ASSERT_EQ(decisions_of(batch, id).size(), 1U);
  const IndexRecord record = with_decisions(find_photograph(batch, "a.jpg")->index.envelopes[3], decisions_of(batch, id));
  EXPECT_EQ(record.interpretation.taxon->value, "Vanessa atalanta");
  EXPECT_EQ(record.interpretation.taxon->confidence, 1);
}

TEST(People, TheLatestDecisionStandsAndMayBeTakenBack) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, small_sheet("a.jpg"));
  const std::string id = ids_on(store, "a.jpg")[0];
  for (const std::string value : {"\"A\"", "\"B\"", "null", ""})
    decide(store, {id, "collector", value, "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  EXPECT_TRUE(decisions_of(store, id).empty());
  EXPECT_EQ(history_of(store, id).size(), 4U);
  EXPECT_THROW(decide(store, {"00000000000", "collector", "\"A\"", "me", "", "", std::nullopt}), Trouble);
  EXPECT_THROW(decide(store, {id, "collector", "not JSON", "me", "", "", std::nullopt}), Trouble);
}

TEST(People, MoveAllOrNone) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, small_sheet("a.jpg"));
  const std::string id = ids_on(store, "a.jpg")[0];
  const Movement picked{id, "picked", "me", "2026-01-02T10:00:00Z", "tin 7", ""};
  EXPECT_EQ(record_movements(store, {picked, {"00000000000", "picked", "me", "", "", ""}}).failure().kind, "unknown_envelope");
  EXPECT_EQ(record_movements(store, {picked, {id, "juggled", "me", "", "", ""}}).failure().kind, "unknown_movement");
  EXPECT_FALSE(whereabouts(store, id));
  ASSERT_TRUE(record_movements(store, {picked, {id, "relaxing", "me", "2026-01-03T10:00:00Z", "box 1", ""}}).ok());
  EXPECT_EQ(whereabouts(store, id)->where, "box 1");
  EXPECT_EQ(movements_of(store, id).size(), 2U);
}

TEST(Missing, FilesKeepTheirRowsAndMovedOnesTakeThemAlong) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  keep(store, small_sheet("a.jpg"));
  keep(store, small_sheet("b.jpg"));
  PhotoIndex moved = small_sheet("b.jpg");
  moved.photo.path = "tin 7/b.jpg";
  const std::vector<std::string> ids = ids_on(store, "b.jpg");
  keep(store, moved);
  Transaction transaction(store);
  settle_missing(store, "/photographs", {"tin 7/b.jpg"});
  transaction.commit();
  EXPECT_TRUE(find_photograph(store, "a.jpg")->missing);
  EXPECT_EQ(find_photograph(store, "a.jpg")->index.envelopes.size(), 20U);
  EXPECT_FALSE(find_photograph(store, "b.jpg"));
  EXPECT_EQ(ids_on(store, "tin 7/b.jpg"), ids);
  EXPECT_EQ(totals(store).missing, 1);
  EXPECT_EQ(totals(store).envelopes, 40);
}

}  // namespace
}  // namespace papillote::store
