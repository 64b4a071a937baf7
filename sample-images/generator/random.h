// A seeded source of chance. The same seed gives the same photograph on every machine, so the standard
// library's distributions (which differ between implementations) are not used.
#pragma once
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <span>
#include <utility>
#include <vector>

namespace papillote::samples {

class Random {
 public:
  explicit Random(std::uint64_t seed) : state_{seed * 0x9E3779B97F4A7C15ULL + 0x1234567ULL} {}

  // SplitMix64 (Steele, Lea, Flood 2014).
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  double unit() { return static_cast<double>(next() >> 11) * 0x1.0p-53; }
  double between(double low, double high) { return low + (high - low) * unit(); }
  // Whole number, both ends included.
  int whole(int low, int high) {
    return low + static_cast<int>(next() % static_cast<std::uint64_t>(high - low + 1));
  }
  bool chance(double probability) { return unit() < probability; }
  double normal(double mean, double deviation) {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - unit()));
    return mean + deviation * radius * std::cos(6.283185307179586 * unit());
  }
  template <class T>
  const T& pick(const std::vector<T>& from) {
    return from[static_cast<std::size_t>(next() % from.size())];
  }
  template <class T>
  const T& pick(std::span<const T> from) {
    return from[static_cast<std::size_t>(next() % from.size())];
  }
  template <class T>
  T pick(std::initializer_list<T> from) {
    return *(from.begin() + static_cast<std::ptrdiff_t>(next() % from.size()));
  }
  // One of the values, by weight.
  template <class T>
  T weighted(std::initializer_list<std::pair<T, double>> from) {
    double total = 0.0;
    for (const auto& [value, weight] : from) total += weight;
    double left = unit() * total;
    for (const auto& [value, weight] : from) {
      if (left < weight) return value;
      left -= weight;
    }
    return from.begin()->first;
  }
  // An independent source for a part of the picture.
  Random branch() { return Random{next()}; }

 private:
  std::uint64_t state_;
};

}  // namespace papillote::samples
