// A character language model with back-off (interpolated Kneser-Ney, made by scripts/train/reader/language_model.py). The file's
// layout is in models/reader/card.md; classes are those of the net, class 0 stands before and after a line.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::reading {

class LanguageModel {
 public:
  // The last classes before a character, oldest in the highest byte.
  struct Context {
    std::uint64_t classes = 0;
    int length = 0;
  };

  // Failure "model_altered": `bytes` is no such file, or one for another set of classes.
  [[nodiscard]] static Result<LanguageModel> read(std::string_view bytes, int classes);

  [[nodiscard]] Context start() const { return {0, 1}; }
  [[nodiscard]] Context extended(Context context, int k) const;
  // Natural logarithm of P(k | what came before); k = 0 asks for the end of the line.
  [[nodiscard]] double score(Context context, int k) const;

 private:
  struct Row {
    std::uint64_t key = 0;  // n-gram and its length; 0 = empty
    float log_p = 0;
    float log_weight = 0;
  };
  [[nodiscard]] const Row* find(std::uint64_t classes, int length) const;

  int order_ = 0;
  double floor_ = 0;
  std::vector<Row> rows_;  // open addressing, a power of two long
};

}  // namespace papillote::reading
