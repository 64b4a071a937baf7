// The layout of a gazetteer file: a header, then arrays of fixed-size rows, then text. Little-endian, as written by
// the machine that uses it; offsets count from the start of a section.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace papillote::interpretation::format {

inline constexpr std::array<char, 8> kMagic{'P', 'A', 'P', 'G', 'A', 'Z', '0', '1'};

enum Section : std::size_t {
  kPlaces,       // PlaceRow
  kKeyText,      // offsets into kKeys, one more than there are keys
  kKeyPostings,  // offsets into kPostings, one more than there are keys
  kPostings,     // place number and flags
  kBuckets,      // offsets into kLookalikes, one more than there are buckets
  kLookalikes,   // key numbers whose skeleton, whole or with one letter left out, falls into the bucket
  kKeys,         // text of the keys, sorted
  kTexts,        // names, identifiers, divisions, each ended by NUL
  kSectionCount
};

struct Header {
  std::array<char, 8> magic;
  std::uint64_t file_size;
  std::array<std::uint64_t, kSectionCount> begin;  // byte offsets in the file
  std::array<std::uint64_t, kSectionCount> size;   // bytes
  std::uint32_t attribution;                       // text offset
  std::uint32_t unused;
};

struct PlaceRow {
  std::int32_t lat_udeg;
  std::int32_t lon_udeg;
  std::uint32_t name;
  std::uint32_t id;
  std::uint32_t division;
  std::uint32_t population;
  float radius_m;
  std::uint32_t kind;
};

inline constexpr std::uint32_t kMainName = 1U << 31;
inline constexpr std::uint32_t kAbbreviation = 1U << 30;
inline constexpr std::uint32_t kPlaceMask = kAbbreviation - 1;

inline constexpr std::size_t kShortestLookalike = 5;  // letters of a key that is found by its look

constexpr std::uint32_t hash_of(std::string_view text) {  // FNV-1a
  std::uint32_t hash = 2166136261U;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 16777619U;
  hash ^= hash >> 15;
  return hash * 2246822519U ^ (hash >> 13);
}

}  // namespace papillote::interpretation::format
