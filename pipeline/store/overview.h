// The whole index as columns in memory: a question over 100,000 envelopes is answered, counted, put on a map and on a line of
// years in milliseconds. Words alone are looked up in the store.
#pragma once

#include <cstdint>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "pipeline/store/search.h"

namespace papillote::store {

enum class Sight {
  shelf,     // tin, sheet, position
  priority,  // most urgent first
  date,
  doubt,     // least sure reading first; what a person confirmed last
};
enum class Progress { any, open, confirmed };

struct Look {
  Question question;  // its order, limit and skip are not used
  Progress progress = Progress::any;
  Sight sight = Sight::shelf;
  int limit = 60;
  int skip = 0;
  double spot_deg = 2;  // envelopes of one square of this size are one spot of the map
};

struct Spot {
  double lat_deg = 0, lon_deg = 0;  // mean of its envelopes
  int count = 0;
};

// How many envelopes each further choice would leave: a count disregards the choice of its own kind, so that another can be seen.
struct Counts {
  int found = 0;
  int confirmed = 0;  // of the found
  std::vector<std::pair<std::string, int>> tins, levels, findings, taxa;  // most first, tins by shelf
  std::vector<std::pair<int, double>> years;  // a date of several years is shared out among them
  int undated = 0;                            // no date, or one of more than kWideYears years
  int placeless = 0;
  std::vector<Spot> spots;
};
inline constexpr int kWideYears = 30;
inline constexpr int kTaxaShown = 40;

struct Seen {
  std::vector<Hit> hits;
  Counts counts;
};

// One thread writes (`load`, `renew`), several may read in between.
class Overview {
 public:
  void load(Store&);
  // After decisions on these envelopes.
  void renew(Store&, const std::vector<std::string>& ids);

  [[nodiscard]] Seen look(Store&, const Look&) const;
  // Ids alone, in the order of the look; 0 = all.
  [[nodiscard]] std::vector<std::string> ids(Store&, const Look&, int most) const;
  [[nodiscard]] std::size_t size() const { return rows_.size(); }

 private:
  struct Row {
    std::int64_t key = 0;
    int tin = 0, level = 0, taxon = 0;
    bool dated = false;
    int first_day = 0, last_day = 0;
    bool placed = false;
    double lat_deg = 0, lon_deg = 0;
    double score = 0, doubt = 0;
    bool confirmed = false;
    std::string id;
    std::string taxon_folded;
    std::vector<std::pair<int, int>> findings;  // kind, severity
  };
  class Names {
   public:
    int index_of(const std::string& name);
    [[nodiscard]] int find(const std::string& name) const;  // -1 = none
    std::vector<std::string> all;

   private:
    std::unordered_map<std::string, int> at_;
  };

  [[nodiscard]] std::vector<std::size_t> answering(Store&, const Look&, Counts*) const;
  void read_rows(Store&, const std::string* id);

  std::vector<Row> rows_;  // by shelf
  std::unordered_map<std::int64_t, std::size_t> by_key_;
  Names tins_, levels_, kinds_, taxa_;
};

}  // namespace papillote::store
