// From a collection to a pick list and its movements, through the store.
#include "pipeline/bench/pick.h"

#include <gtest/gtest.h>

#include "pipeline/store/photographs.h"
#include "printed.h"

namespace papillote::bench {
namespace {

// Two sheets of three envelopes; every envelope of the first one is also on a photograph of its back.
class Picking : public ::testing::Test {
 protected:
  void SetUp() override {
    store_.emplace(store::Store::open(folder_.path() / "collection", store::Access::batch).value());
    store::Transaction transaction(*store_);
    const std::vector<std::string> paths{"1-back.jpg", "1-front.jpg", "2-front.jpg"};
    const auto known = store::take_up(*store_, folder_.path().string(), paths);
    for (std::size_t k = 0; k < paths.size(); ++k) {
      store::keep_facts(*store_, known[k].key, {1, 1}, digest_of(paths[k]));
      store::replace_index(*store_, known[k].key, paths[k], {photographed(paths[k]), {}, std::nullopt});
    }
    transaction.commit();
  }

  static PhotoIndex photographed(const std::string& path) {
    PhotoIndex index;
    index.photo = {path, digest_of(path), "jpeg", 900, 300, "", ""};
    index.calibration.sheet = Sheet{"07", path.substr(0, 1), path.substr(2, path.find('.') - 2), {}};
    const bool back = index.calibration.sheet->side == "back";
    for (int k = 0; k < 3; ++k) {
      IndexRecord record;
      const double x = 20 + 300.0 * (back ? 2 - k : k);
      record.outline.number = k;
      record.outline.polygon_px = {{x, 20}, {x + 200, 20}, {x + 200, 200}, {x, 200}};
      record.outline.crop = {{Point{x, 20}, {x + 200, 20}, {x + 200, 200}, {x, 200}}, 200, 180};
      record.outline.confidence = 1;
      record.annotation.text = "Simla 190" + std::to_string(k);
      if (path.starts_with("1")) record.catalogue_number = "PAP00000" + std::to_string(k);
      index.envelopes.push_back(record);
    }
    return index;
  }

  static std::optional<image::Image> pixels(const Photo& photo) {
    return image::Image{cv::Mat(photo.height_px, photo.width_px, CV_8UC3, cv::Scalar::all(200))};
  }

  [[nodiscard]] std::vector<PickEntry> found() {
    store::Question question;
    question.words = "Simla";
    question.limit = 0;
    return picked_from(*store_, store::search(*store_, question).hits, pixels);
  }

  printed::Folder folder_;
  std::optional<store::Store> store_;
};

TEST_F(Picking, NamesEachEnvelopeOnceAtItsPlaceOnTheFront) {
  const std::vector<PickEntry> entries = found();
  ASSERT_EQ(entries.size(), 6u);
  for (std::size_t k = 0; k < 6; ++k) {
    EXPECT_EQ(entries[k].tin, "07");
    EXPECT_EQ(entries[k].sheet, k < 3 ? "1" : "2");
    EXPECT_EQ(entries[k].side, "front");
    EXPECT_EQ(entries[k].position, (Position{1, static_cast<int>(k % 3) + 1}));
    EXPECT_EQ(entries[k].thumbnail.width_px, 200);
    EXPECT_TRUE(entries[k].out.empty());
  }
  EXPECT_EQ(entries[1].catalogue_number, "PAP000001");
}

TEST_F(Picking, TakesNothingTwice) {
  const auto first = movements_for(found(), "Ada", "2026-11-25T08:30:00Z", "words");
  ASSERT_EQ(first.size(), 6u);
  ASSERT_TRUE(store::record_movements(*store_, first).ok());
  const std::vector<PickEntry> again = found();
  ASSERT_EQ(again.size(), 6u);
  EXPECT_EQ(again[0].out, "picked since 2026-11-25, by Ada");
  EXPECT_TRUE(movements_for(again, "Ada", "2026-11-26T08:30:00Z", "words").empty());
  ASSERT_TRUE(store::record_movements(*store_, {{again[2].id, "returned", "Ada", "2026-11-27T08:30:00Z", "", ""}}).ok());
  const auto later = movements_for(found(), "Ada", "2026-11-28T08:30:00Z", "words");
  ASSERT_EQ(later.size(), 1u);
  EXPECT_EQ(later[0].envelope_id, again[2].id);
}

}  // namespace
}  // namespace papillote::bench
