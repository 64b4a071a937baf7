// Pictures of photographs and envelopes as JPEG, made when they are asked for and kept in memory while there is room.
#pragma once

#include <cstddef>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/index_record.h"
#include "pipeline/record/result.h"
#include "pipeline/review/craft.h"

namespace papillote::review {

using Jpeg = std::shared_ptr<const std::vector<std::byte>>;

// Safe to use from several threads; one photograph is decoded at a time.
class Pictures {
 public:
  explicit Pictures(const Craft& craft) : craft_(craft) {}

  // The upright cut-out, its longer side at most `most_px`. `beside` are the other envelopes of the photograph: where it
  // must be decoded for a small picture, theirs are made too.
  [[nodiscard]] Result<Jpeg> crop(store::Store&, const Photo&, const Crop&, int most_px, const std::vector<IndexRecord>& beside = {});
  [[nodiscard]] Result<Jpeg> photograph(store::Store&, const Photo&, int most_px);

 private:
  struct Kept {
    std::string key;
    Jpeg jpeg;
  };
  [[nodiscard]] Jpeg find(const std::string& key);
  Jpeg keep(const std::string& key, std::vector<std::byte> jpeg);
  [[nodiscard]] Result<image::Image> decoded(store::Store&, const Photo&);

  const Craft& craft_;
  std::mutex keeping_;
  std::list<Kept> kept_;  // last used first
  std::unordered_map<std::string, std::list<Kept>::iterator> by_key_;
  std::size_t bytes_ = 0;
  std::mutex decoding_;
  std::list<std::pair<Digest, image::Image>> photographs_;  // last used first
};

}  // namespace papillote::review
