// The language model's file: whatever its bytes, it is refused or asked about every character without harm.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "stages/reading/language_model.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using papillote::reading::LanguageModel;
  constexpr int kClasses = 12;
  const auto model = LanguageModel::read({reinterpret_cast<const char*>(data), size}, kClasses);
  if (!model.ok()) return 0;
  auto context = model->start();
  for (int k = 0; k < kClasses; ++k) {
    (void)model->score(context, k);
    context = model->extended(context, k);
  }
  return 0;
}
