// Envelopes that seem to have been photographed before, as the page asks about them.
//
// They are compared once and kept in memory, since ten thousand take half a minute: going through hundreds of pairs compares
// nothing anew. What people settled is read from the store each time.
#pragma once

#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "pipeline/review/craft.h"
#include "pipeline/store/sameness.h"

namespace papillote::review {

// Safe to use from several threads, each with a store of its own.
class RefoundPairs {
 public:
  explicit RefoundPairs(const Craft& craft) : craft_(craft) {}

  // What nobody settled, likeliest first, then what stands settled, the latest first. Compared where a photograph's outcome is
  // new since, or when it is asked for `anew`.
  [[nodiscard]] nlohmann::json all(store::Store&, bool anew);

  // Both sides as they were read, and what was settled about either. The ids were minted once.
  [[nodiscard]] nlohmann::json pair(store::Store&, const std::string& newer_id, const std::string& earlier_id);

  // Keeps what a person says of the two, as long as nothing was settled about either since `seen`, as `pair` gave it. Two that
  // counted as one are parted before they are called different. Answers the ids under which it is kept, the verdict that stood
  // before, and what has been seen now. Failures: "conflict", and those of settle_sameness.
  [[nodiscard]] Result<nlohmann::json> settle(store::Store&, const store::Sameness&, std::size_t seen);

  // What was settled about either of the two after `seen`, for the page.
  [[nodiscard]] static nlohmann::json since(store::Store&, const std::string& newer_id, const std::string& earlier_id,
                                            std::size_t seen);

 private:
  using Compared = std::shared_ptr<const std::vector<Refound>>;
  [[nodiscard]] Compared compared(store::Store&, bool anew);
  [[nodiscard]] Compared last();

  const Craft& craft_;
  std::mutex comparing_;
  std::string state_;  // of the photographs when they were compared
  std::mutex keeping_;
  Compared last_ = std::make_shared<const std::vector<Refound>>();
};

}  // namespace papillote::review
