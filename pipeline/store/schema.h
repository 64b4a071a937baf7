// Private to this room: the layout of the store and how older layouts become the present one.
#pragma once

#include <span>

namespace papillote::store {

// "papi": tells this store from other SQLite files.
inline constexpr int kApplicationId = 0x70617069;

// `migrations()[n]` brings version n to n + 1; the first makes the whole layout in an empty file.
[[nodiscard]] std::span<const char* const> migrations();

}  // namespace papillote::store
