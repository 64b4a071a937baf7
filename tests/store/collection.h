// A collection in a folder of its own, and drawn-up index records, for the tests of the store and what sits on it.
#pragma once

#include <fmt/format.h>
#include <stdlib.h>

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/store/index.h"
#include "pipeline/store/photographs.h"
#include "pipeline/store/store.h"

namespace papillote::store {

class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "papillote-test-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  ~TemporaryFolder() {
    std::error_code error;
    std::filesystem::remove_all(path_, error);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// Throws std::bad_variant_access where the store does not open: the test then fails.
inline Store opened(const std::filesystem::path& collection, Access access = Access::batch) {
  return std::move(Store::open(collection, access)).value();
}

inline Polygon box(double left, double top, double width, double height) {
  return {{left, top}, {left + width, top}, {left + width, top + height}, {left, top + height}};
}

inline IndexRecord envelope(int number, Polygon polygon, const std::string& text = "", const std::string& slip = "") {
  IndexRecord record;
  record.outline.number = number;
  record.outline.polygon_px = std::move(polygon);
  record.annotation.text = text;
  if (!text.empty()) {
    Reading line;
    line.text = text;
    line.confidence = 0.9;
    record.annotation.lines = {line};
  }
  record.catalogue_number = slip;
  return record;
}

inline PhotoIndex photograph(const std::string& path, std::vector<IndexRecord> envelopes, const std::string& tin = "",
                             const std::string& sheet = "", const std::string& side = "front") {
  PhotoIndex index;
  index.photo.path = path;
  index.photo.sha256 = digest_of("content of " + path);
  index.photo.width_px = 6000;
  index.photo.height_px = 4000;
  if (!tin.empty()) index.calibration.sheet = Sheet{tin, sheet, side, {}};
  index.envelopes = std::move(envelopes);
  return index;
}

// Into the store, as a batch would.
inline void keep(Store& store, const Outcome& outcome) {
  Transaction transaction(store);
  const auto known = take_up(store, "/photographs", {outcome.index.photo.path});
  keep_facts(store, known[0].key, {1, 1}, outcome.index.photo.sha256);
  replace_index(store, known[0].key, outcome.index.photo.path, outcome);
  transaction.commit();
}
inline void keep(Store& store, PhotoIndex index) { keep(store, Outcome{std::move(index), {}, std::nullopt}); }

inline std::vector<IndexRecord> records_on(Store& store, const std::string& path) {
  return find_photograph(store, path).value().index.envelopes;
}

inline std::vector<std::string> ids_on(Store& store, const std::string& path) {
  std::vector<std::string> ids;
  for (const IndexRecord& record : records_on(store, path)) ids.push_back(record.id);
  return ids;
}

}  // namespace papillote::store
