#include "stages/reading/language_model.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>

namespace papillote::reading {
namespace {

constexpr std::string_view kMagic = "PAPILM1\n";
constexpr int kMostOrder = 7;  // a key holds seven classes and their number

std::uint64_t key_of(std::uint64_t classes, int length) { return classes | static_cast<std::uint64_t>(length) << 56; }

std::size_t slot_of(std::uint64_t key, std::size_t mask) {
  // Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4).
  return static_cast<std::size_t>((key * 0x9E3779B97F4A7C15ULL) >> 20) & mask;
}

std::uint64_t low_bytes(std::uint64_t classes, int count) {
  return count >= 8 ? classes : classes & ((std::uint64_t{1} << (8 * count)) - 1);
}

// Little-endian numbers one after the other; `good` turns false at the end of the bytes.
struct Source {
  std::string_view bytes;
  bool good = true;

  template <class T>
  T take() {
    T value{};
    if (bytes.size() < sizeof value) {
      good = false;
      return value;
    }
    std::memcpy(&value, bytes.data(), sizeof value);
    bytes.remove_prefix(sizeof value);
    return value;
  }
};

}  // namespace

Result<LanguageModel> LanguageModel::read(std::string_view bytes, int classes) {
  const Failure altered{"models", "model_altered", "The language model is no language model for this reader's characters.",
                        "Restore the folder of models as it was delivered, for instance with git, and run the command again."};
  if (!bytes.starts_with(kMagic)) return altered;
  Source source{bytes.substr(kMagic.size())};
  LanguageModel model;
  model.order_ = static_cast<int>(source.take<std::uint32_t>());
  const auto its_classes = source.take<std::uint32_t>();
  const auto step = source.take<float>();
  if (!source.good || model.order_ < 1 || model.order_ > kMostOrder || its_classes != static_cast<std::uint32_t>(classes)) return altered;
  model.floor_ = -std::log(static_cast<double>(classes));
  model.rows_.resize(std::bit_ceil(bytes.size() / 4 + 16));  // a row takes 3 bytes or more: never more than three quarters full
  const std::size_t mask = model.rows_.size() - 1;
  for (int n = 1; n <= model.order_; ++n) {
    const auto count = source.take<std::uint32_t>();
    const auto row_bytes = static_cast<std::size_t>(n) + 2;
    if (!source.good || source.bytes.size() / row_bytes < count) return altered;
    for (std::uint32_t i = 0; i < count; ++i) {
      std::uint64_t gram = 0;
      for (int k = 0; k < n; ++k) gram = gram << 8 | source.take<std::uint8_t>();
      Row row{key_of(gram, n), 0, 0};
      row.log_p = -step * static_cast<float>(source.take<std::uint8_t>());
      row.log_weight = -step * (static_cast<float>(source.take<std::uint8_t>()) - 64);
      std::size_t slot = slot_of(row.key, mask);
      while (model.rows_[slot].key != 0) slot = (slot + 1) & mask;
      model.rows_[slot] = row;
    }
  }
  if (!source.bytes.empty()) return altered;
  return model;
}

const LanguageModel::Row* LanguageModel::find(std::uint64_t classes, int length) const {
  const std::uint64_t key = key_of(classes, length);
  const std::size_t mask = rows_.size() - 1;
  for (std::size_t slot = slot_of(key, mask); rows_[slot].key != 0; slot = (slot + 1) & mask)
    if (rows_[slot].key == key) return &rows_[slot];
  return nullptr;
}

LanguageModel::Context LanguageModel::extended(Context context, int k) const {
  const int length = std::min(context.length + 1, order_ - 1);
  return {low_bytes(context.classes << 8 | static_cast<std::uint64_t>(k), length), length};
}

double LanguageModel::score(Context context, int k) const {
  double weight = 0;
  for (int length = context.length; length >= 0; --length) {
    const std::uint64_t before = low_bytes(context.classes, length);
    if (const Row* row = find(before << 8 | static_cast<std::uint64_t>(k), length + 1)) return weight + static_cast<double>(row->log_p);
    if (length > 0)
      if (const Row* row = find(before, length)) weight += static_cast<double>(row->log_weight);
  }
  return weight + floor_;
}

}  // namespace papillote::reading
