// Answers of steps, failures included, under the key of everything that could change them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/store/store.h"

namespace papillote::store {

struct KeptAnswer {
  std::string body;  // canonical text of a Result
  Digest digest;     // of `body`
};

[[nodiscard]] std::optional<KeptAnswer> find_answer(Store&, const Digest& key);

// What went into a key, kept so that the next run can say what changed.
struct Ingredients {
  int version = 0;
  std::string options;                                      // canonical text
  std::vector<std::pair<std::string, std::string>> inputs;  // name, digest

  bool operator==(const Ingredients&) const = default;
};

// How one step of one photograph stands.
struct Standing {
  std::string stage;
  Digest key;
  Ingredients ingredients;
  std::string reason;  // why it ran, or from where it was known
};

[[nodiscard]] std::vector<Standing> standing_steps(Store&, std::int64_t photograph);  // in the order of work

void keep_answer(Store&, const Digest& key, std::string_view stage, const std::string& body, const Digest& digest);

// Replaces all standing rows of a photograph.
void keep_standing(Store&, std::int64_t photograph, const std::vector<Standing>&);

// One sentence for each answer whose text is no longer the one its digest was taken of. That of a photograph's registration
// stands for less than its text (its path may change), so only its form is looked at.
[[nodiscard]] std::vector<std::string> changed_answers(Store&);

}  // namespace papillote::store
