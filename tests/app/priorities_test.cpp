// What grew since an earlier photograph, across sheets: envelopes are compared once a person says that they are the same.
#include "pipeline/app/priorities.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>

#include "pipeline/record/digest.h"
#include "pipeline/store/sameness.h"
#include "stages/triage/rules.h"
#include "tests/stages/condition/stained_envelope.h"
#include "tests/store/collection.h"

namespace papillote::app {
namespace {

using condition::drawn::finding;
using condition::drawn::photographed;
using condition::drawn::picture;
using testing::ElementsAre;
using testing::IsEmpty;

class AcrossSheets : public testing::Test {
 protected:
  // One envelope photographed in 2019 with a stain, and in 2026 on another sheet, turned, with a larger one.
  AcrossSheets() {
    keep("then.jpg", "1", "2019-05-02T10:00:00", photographed({finding("water_stain", 2, kAt, 4)}, 10, 4),
         picture({{kAt, 4}}, 10, 4));
    keep("now.jpg", "9", "2026-05-02T10:00:00", photographed({finding("water_stain", 3, kAt, 9)}, 9, 97),
         picture({{kAt, 9}}, 9, 97));
    newer_ = store::ids_on(store_, "now.jpg")[0];
    earlier_ = store::ids_on(store_, "then.jpg")[0];
  }

  void keep(const std::string& path, const std::string& sheet, const std::string& taken, IndexRecord record,
            const image::Image& photo) {
    const std::vector<std::byte> jpeg = image::encode_jpeg(photo.bgr, 95);
    const std::string bytes(reinterpret_cast<const char*>(jpeg.data()), jpeg.size());
    std::ofstream(folder_.path() / path, std::ios::binary) << bytes;
    PhotoIndex index = store::photograph(path, {std::move(record)}, "7", sheet);
    index.photo.sha256 = digest_of(bytes);
    index.photo.taken = taken;
    store::Transaction transaction(store_);
    const auto known = store::take_up(store_, folder_.path().string(), {path});
    store::keep_facts(store_, known[0].key, {1, 1}, index.photo.sha256);
    store::replace_index(store_, known[0].key, path, {index, {}, std::nullopt});
    transaction.commit();
  }

  void settle(std::string_view verdict) {
    ASSERT_TRUE(
        store::settle_sameness(store_, {{newer_, earlier_, std::string(verdict), "A. Curator", "2026-11-26T10:00:00Z", ""}})
            .ok());
  }

  // The times since which something on the newer photograph grew.
  std::vector<std::string> grown_since() {
    set_priorities(store_, triage::printed_rules(), {});
    return times_on("now.jpg");
  }
  std::vector<std::string> times_on(const std::string& path) {
    const std::vector<IndexRecord> records = store::records_on(store_, path);
    std::vector<std::string> times;
    for (const Finding& each : records.at(0).condition.findings)
      if (!each.grown_since.empty()) times.push_back(each.grown_since);
    return times;
  }

  static constexpr Point kAt{52, 18};
  store::TemporaryFolder folder_;
  store::Store store_ = store::opened(folder_.path() / "collection");
  std::string newer_, earlier_;
};

TEST_F(AcrossSheets, NothingIsComparedThatNobodyConfirmed) {
  EXPECT_THAT(grown_since(), IsEmpty());
  settle(store::kOther);
  EXPECT_THAT(grown_since(), IsEmpty());
}

TEST_F(AcrossSheets, WhatIsConfirmedIsComparedAndWhatIsTakenBackForgotten) {
  settle(store::kSame);
  EXPECT_TRUE(priorities_due(store_, triage::printed_rules(), {}));
  EXPECT_THAT(grown_since(), ElementsAre("2019-05-02T10:00:00"));
  EXPECT_FALSE(priorities_due(store_, triage::printed_rules(), {}));
  EXPECT_THAT(times_on("then.jpg"), IsEmpty()) << "the earlier photograph is not held against the later one";
  settle(store::kTakenBack);
  EXPECT_THAT(grown_since(), IsEmpty());
}

TEST_F(AcrossSheets, AStainThatStayedIsNoGrowth) {
  keep("now.jpg", "9", "2026-05-02T10:00:00", photographed({finding("water_stain", 2, kAt, 4)}, 9, 97),
       picture({{kAt, 4}}, 9, 97, 0.9));
  newer_ = store::ids_on(store_, "now.jpg")[0];
  settle(store::kSame);
  EXPECT_THAT(grown_since(), IsEmpty());
}

TEST_F(AcrossSheets, APhotographThatDoesNotSayWhenIsNeitherEarlierNorLater) {
  keep("then.jpg", "1", "", photographed({finding("water_stain", 2, kAt, 4)}, 10, 4), picture({{kAt, 4}}, 10, 4));
  earlier_ = store::ids_on(store_, "then.jpg")[0];
  settle(store::kSame);
  EXPECT_THAT(grown_since(), IsEmpty());
}

}  // namespace
}  // namespace papillote::app
