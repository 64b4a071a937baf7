// A copy taken while a batch writes is the collection of one moment, sound and complete in itself.
#include "pipeline/store/backup.h"

#include <gtest/gtest.h>

#include <atomic>
#include <fstream>
#include <thread>

#include "pipeline/store/movements.h"
#include "pipeline/store/results.h"
#include "pipeline/store/sqlite.h"
#include "tests/store/collection.h"

namespace papillote::store {
namespace {

TEST(Backup, IsOfOneMomentWhileABatchWrites) {
  const TemporaryFolder folder;
  const std::filesystem::path collection = folder.path() / "collection";
  std::atomic<bool> stop = false;
  std::atomic<int> kept = 0;
  std::thread batch([&] {
    Store store = opened(collection);
    // Two photographs in one transaction, so that a copy with an odd number of them would be of no moment.
    for (int n = 0; n < 400 && !stop; ++n) {
      Transaction transaction(store);
      for (const char* side : {"a", "b"}) {
        const std::string path = fmt::format("{}{}.jpg", n, side);
        const auto known = take_up(store, "/photographs", {path});
        const PhotoIndex index = photograph(
            path, {envelope(1, box(10, 10, 80, 60), "Simla"), envelope(2, box(210, 10, 80, 60), "Zermatt")}, "7", "1");
        keep_facts(store, known[0].key, {1, 1}, index.photo.sha256);
        replace_index(store, known[0].key, path, {index, {}, std::nullopt});
      }
      transaction.commit();
      kept = n + 1;
    }
  });
  while (kept < 3) std::this_thread::yield();
  int before = 0;
  for (int copy = 0; copy < 4; ++copy) {
    const std::filesystem::path place = folder.path() / std::to_string(copy);
    std::filesystem::create_directory(place);
    const int least = 2 * kept;
    {
      Store store = opened(collection, Access::read);
      const auto done = copy_store(store, place / "papillote.sqlite");
      EXPECT_TRUE(done.ok()) << done.failure().reason;
    }
    EXPECT_FALSE(std::filesystem::exists(place / "papillote.sqlite-wal"));
    Store copied = opened(place, Access::desk);
    EXPECT_TRUE(faults(copied).empty());
    EXPECT_TRUE(changed_answers(copied).empty());
    const int photographs = totals(copied).photographs;
    EXPECT_EQ(photographs % 2, 0);
    EXPECT_GE(photographs, least);
    EXPECT_GE(photographs, before);
    EXPECT_EQ(totals(copied).envelopes, 2 * photographs);
    before = photographs;
    // It is a collection of its own: a person can work with it.
    EXPECT_TRUE(record_movements(copied, {{ids_on(copied, "0a.jpg")[0], "picked", "me", "2026-01-01T10:00:00Z", "", ""}}).ok());
  }
  stop = true;
  batch.join();
}

TEST(Backup, SaysWhereItCannotWrite) {
  const TemporaryFolder folder;
  Store store = opened(folder.path() / "collection");
  const auto done = copy_store(store, folder.path() / "nowhere" / "papillote.sqlite");
  ASSERT_FALSE(done.ok());
  EXPECT_EQ(done.failure().kind, "unwritable");
}

TEST(Answers, AreHeldAgainstTheirDigests) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  {
    Transaction transaction(store);
    keep_answer(store, digest_of("key 1"), "lines", "{\"a\":1}", digest_of("{\"a\":1}"));
    keep_answer(store, digest_of("key 2"), "lines", "{\"a\":2}", digest_of("{\"a\":1}"));
    keep_answer(store, digest_of("key 3"), "registration", "{\"a\":3}", digest_of("of less than its text"));
    transaction.commit();
  }
  EXPECT_EQ(changed_answers(store), std::vector<std::string>{"answer 2 of lines is not what its digest says"});
}

}  // namespace
}  // namespace papillote::store
