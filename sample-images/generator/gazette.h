// The invented collection's world: real places, real species, invented people.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace papillote::samples {

enum class Language { english, french, german, spanish, portuguese, dutch, italian };
enum class Fauna { europe, americas, asia, africa };
enum class Order { butterfly, moth, dragonfly };

struct Place {
  std::string name;             // as written on the envelope
  std::string province;         // as written, may be empty
  std::string country_written;  // as written, in the language and the names of its time
  std::string country;          // today's name in English
  std::string country_code;     // ISO 3166-1 alpha-2
  double lat_deg, lon_deg;
  int low_m, high_m;            // heights at which one collects there
  Language language;
  Fauna fauna;
};

struct Species {
  std::string name;
  std::string author;  // with brackets where the genus has changed
  Fauna fauna;
  Order order;
};

struct Person {
  std::string name;
  Language language;
};

const std::vector<Place>& places();
const std::vector<Species>& species();
const std::vector<Person>& people();

}  // namespace papillote::samples
