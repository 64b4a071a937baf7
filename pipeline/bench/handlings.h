// How often envelopes were taken in hand, and how often they could be left alone.
//
// A handling is a movement for which somebody takes hold of the envelope or its specimen: captured, picked, frozen, relaxing,
// on board, repapered, housed, returned. Drying is none (the board is left alone), neither are missing and found. The laying
// out for its photographs counts as one even where nobody recorded it. A movement that was recorded by mistake is none. To
// search, look and correct by the pictures is none.
//
// Handlings avoided, at least: every time that somebody opened a tin to pick from it (one person, one day), the envelopes
// in it that stayed where they were. Without the index a person leafs through them all to find the ones she wants, and
// through other tins as well, which are not counted. The definition is the project's own.
#pragma once

#include "pipeline/store/movements.h"

namespace papillote::bench {

[[nodiscard]] int handlings_of(const store::Followed&);

struct TinAccount {
  std::string tin;  // empty = not known
  int in = 0;
  int housed = 0;
  int missing = 0;
  int elsewhere = 0;  // picked, in the chamber, on boards ...
  int handlings = 0;
  int openings = 0;  // to pick from it
  int avoided = 0;   // at least
};
// In the natural order of the tins.
[[nodiscard]] std::vector<TinAccount> account_of(store::Store&);

}  // namespace papillote::bench
