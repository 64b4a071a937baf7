// Persons that an annotation names, each with the role that the words beside the name give them.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

enum class Role { collector, determiner, donor, previous_collection };

struct PersonReading {
  Role role = Role::collector;
  std::string name;                // as written, without the word that gives the role: "H. Fruhstorfer & Sons"
  std::string verbatim;            // with that word
  std::size_t begin = 0, end = 0;  // bytes of the text
  double confidence = 0;
  std::vector<std::string> reasons;
};

// In the order of the text. Only names that stand beside a word such as leg., coll., det., ded. or ex coll. are taken.
[[nodiscard]] std::vector<PersonReading> read_people(std::string_view text);

}  // namespace papillote::interpretation
