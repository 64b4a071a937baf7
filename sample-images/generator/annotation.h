// What stands on an envelope and what it means: the text grammar of the sample scenario.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "dates.h"
#include "gazette.h"
#include "lettering.h"

namespace papillote::samples {

// A tin of the invented collection: its period, its travellers, where they went.
struct Tin {
  int number;
  int first_year, last_year;
  std::vector<const Place*> places;
  std::vector<const Person*> travellers;
};
Tin invent_tin(int number, Random& random);

struct PlaceClaim {
  std::string verbatim;
  std::optional<std::string> name, country, country_code;  // empty when only "ditto" is written
  double lat_deg = 0, lon_deg = 0;
};
struct ElevationClaim {
  std::string verbatim;
  double min_m, max_m;
};
struct CoordinatesClaim {
  std::string verbatim;
  double lat_deg, lon_deg;
};

struct Facts {
  std::optional<WrittenDate> date;
  std::optional<PlaceClaim> place;
  std::optional<std::string> collector;
  std::optional<ElevationClaim> elevation;
  std::optional<CoordinatesClaim> coordinates;
  std::optional<std::string> taxon;
  std::optional<std::string> sex;
  std::optional<std::string> type_status;
  std::optional<std::string> number;
};

// Lines set together in one hand, machine or stamp.
struct Block {
  LineKind kind;
  std::vector<std::string> lines;
};

struct Annotation {
  std::vector<Block> blocks;  // the first is the main one
  Facts facts;
  Order order = Order::butterfly;  // of the insect within
  Fauna fauna = Fauna::europe;
};

Annotation write_annotation(const Tin& tin, bool on_newsprint, Random& random);
// The few words on the back, if any.
Annotation write_back_annotation(const Tin& tin, const Annotation& front, Random& random);

}  // namespace papillote::samples
