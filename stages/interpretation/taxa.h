// Scientific names, sexes and type status as annotations write them. No list of names is used: a name is known by its
// form, so its confidence is moderate unless an author, a rank or an open qualifier stands beside it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::interpretation {

struct TaxonReading {
  std::string verbatim;
  std::size_t begin = 0, end = 0;   // bytes of the text; begin == end when none was found
  std::optional<std::string> name;  // "Papilio machaon", "Papilio sp.", "Papilio cf. machaon"
  std::string genus, epithet, infraspecific_epithet, author;
  std::string qualifier;  // "cf.", "aff.", "nr.", "sp.", "?": open nomenclature
  double confidence = 0;
  std::vector<std::string> reasons;
};
[[nodiscard]] TaxonReading read_taxon(std::string_view text);

struct SexReading {
  std::string verbatim;
  std::size_t begin = 0, end = 0;
  std::optional<std::string> sexes;         // "male", "2 males, 1 female"
  int males = 0, females = 0, workers = 0;  // stated counts; one sign counts one, a doubled sign counts 2 at least
  double confidence = 0;
  std::vector<std::string> reasons;
};
[[nodiscard]] SexReading read_sex(std::string_view text);

struct TypeReading {
  std::string verbatim;
  std::size_t begin = 0, end = 0;
  std::optional<std::string> status;  // "holotype", "syntype"...
  double confidence = 0;
  std::vector<std::string> reasons;
};
[[nodiscard]] TypeReading read_type_status(std::string_view text);

}  // namespace papillote::interpretation
