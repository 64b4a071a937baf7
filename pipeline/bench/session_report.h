// One page about a session at the copy stand: what was taken, what must be taken again, how the card looked.
#pragma once

#include <string>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::bench {

struct SessionShot {
  std::string file;
  std::string sheet;                  // "tin 07, sheet 3, front", empty without a label
  std::string verdict;                // "ok" or "retake"
  std::vector<std::string> reasons;   // in words
  int envelopes = -1;                 // found; -1 = not counted
  std::vector<double> modulation;     // response of the card's edges at 0, 0.01 ... cycles a pixel; empty without a card
};

struct SessionAim {
  std::string metric;
  std::string measured;  // one that misses the aim where there is one
  std::string aim;
  std::string source;
  bool met = false;
};

struct Session {
  std::vector<SessionShot> shots;      // in the order taken
  std::vector<SessionAim> aims;        // beside the published ones
  std::vector<std::string> questions;  // about the whole session: sheets missing or taken twice
};

// Always one page: what needs an answer first; the rest is counted.
[[nodiscard]] std::string session_pdf(const Session&, const std::string& made);

}  // namespace papillote::bench
