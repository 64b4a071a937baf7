// The small words around place names, in the languages of old labels: directions, units, what a feature is, what
// is no name at all.
#pragma once

#include <optional>
#include <string_view>

namespace papillote::interpretation {

struct Heading {
  double deg = 0;          // clockwise from north
  bool o_is_east = false;  // written with O: east in German and Nordic, west in Romance languages; deg has west
};
// "NNE", "north", "südlich", "noroeste" (folded); nothing for other words.
std::optional<Heading> heading_of(std::string_view folded_word);

// Metres in one unit of length; `m` for miles or metres is left to the caller.
std::optional<double> length_unit_m(std::string_view folded_word);

// "one" ... "twelve", "half".
std::optional<double> number_word(std::string_view folded_word);

// What a common noun beside a name makes of it.
enum class Feature { none, road, water, height, low, island, coast, estate, building, reserve, settlement, division };
Feature feature_of(std::string_view key_word);

bool is_link_word(std::string_view folded_word);      // of, de, von, the, ...
bool is_near_word(std::string_view folded_word);      // near, nr, bei, cerca, vic, ...
bool is_offshore_word(std::string_view folded_word);  // off, offshore
bool is_towards_word(std::string_view folded_word);   // to, towards, nach, hacia: names the far end of a way
bool is_between_word(std::string_view folded_word);   // between, zwischen, entre
bool is_and_word(std::string_view folded_word);       // and, und, y, et
bool is_people_word(std::string_view folded_word);    // leg, coll, det: a person's name follows
// Words that are no place on a label although somewhere a place has that name: months, habitats, methods, ...
bool is_never_a_place(std::string_view folded_word);

}  // namespace papillote::interpretation
