// What an export got right of the truth beside the photographs: counts that can be added up over many photographs.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include <map>
#include <string>

#include "tests/evaluate_lines/error_rate.h"

namespace papillote::evaluation {

// Right: the truth, as the words alone settle it, or beyond them by evidence. Open: no answer, or one that leaves room for
// the truth (another century, the order of day and month, marked as uncertain). Wrong: anything else, invented dates included.
enum class Verdict { right, open, wrong };

// `truth` is the "date" of the truth or null, `answer` the export's "edtf" or empty.
[[nodiscard]] Verdict judge_date(const nlohmann::json& truth, const std::string& answer);

struct Answers {
  std::size_t right = 0, open = 0, wrong = 0;
  std::size_t open_on_paper = 0;  // of the open ones: what stands there settles no single date, such as 6/5/19
  void add(Verdict verdict);
};

struct Found {
  std::size_t truth = 0, found = 0, false_alarms = 0;
};

struct FindingScore {
  Found found;
  std::size_t severity_near = 0;  // of the found ones: within one step
};

struct Scores {
  std::size_t photographs = 0, missing = 0;  // missing: not in the export
  Found envelopes75, envelopes90;            // by IoU; an envelope less than 30 % visible counts neither way
  std::size_t merged = 0;                    // outlines that hold most of two envelopes
  Found lines;                               // annotation, IoU >= 0.5
  std::size_t kinds_right = 0;               // of the lines found
  std::size_t newsprint = 0, newsprint_taken = 0;
  std::map<std::string, Errors> read_found;  // by kind, over lines found
  std::map<std::string, Errors> read_all;    // lines not found count as wholly wrong
  std::map<std::string, Answers> dates;      // by kind of the line that bears the date
  Answers places;                            // right: within 20 km
  std::size_t wide_places = 0;               // of the wrong ones: within the stated uncertainty, such as the country
  std::map<std::string, FindingScore> findings;
  Found damaged;                             // envelopes with any damage at all
  std::map<std::string, Found> fragile;      // envelopes, by what makes them so; bulging: 1.6 mm and more, not judged behind glassine

  // Adds one photograph; `found` is its record in the export, or null.
  void add(const nlohmann::json& truth, const nlohmann::json& found);
  [[nodiscard]] std::string table() const;
};

}  // namespace papillote::evaluation
