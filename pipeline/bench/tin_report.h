// One page about one tin: what needs help first, the worst cases to look at, and the cautions that go with it.
#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/bench/photo_source.h"
#include "pipeline/record/index_record.h"
#include "pipeline/record/storage.h"

namespace papillote::bench {

struct WorstCase {
  std::string name;   // catalogue number, or the identity where there is none
  std::string where;  // "sheet 3, row 2, no. 3"
  std::string level;
  std::string why;                   // findings and reasons in words
  Picture picture;                   // upright cut-out; may be empty
  std::vector<Polygon> findings_px;  // in the picture
};

struct TinReport {
  std::string tin;
  std::size_t photographs = 0;
  std::size_t envelopes = 0;
  std::map<std::string, std::size_t> by_level;                 // each envelope counted once, at its most urgent
  std::map<std::string, std::array<std::size_t, 4>> findings;  // by kind, then severity 1..4
  std::size_t not_judged = 0;
  std::vector<std::string> to_retake;  // photographs
  std::size_t grown = 0;               // findings that grew since an earlier photograph
  Storage storage;                     // how the tin is kept
  std::vector<WorstCase> worst;        // most urgent first
};

// `photos` are those of the tin, as people settled them. At most six worst cases; pixels are asked for those alone.
[[nodiscard]] TinReport tin_report(const std::string& tin, const std::vector<PhotoIndex>& photos, const Storage& storage,
                                   const PhotoSource& pixels);

[[nodiscard]] std::string tin_report_pdf(const TinReport& report, const std::string& made);

}  // namespace papillote::bench
