#include <fmt/format.h>

#include <map>
#include <nlohmann/json.hpp>

#include "pipeline/exports/exporter.h"

namespace papillote::exports {

Result<Dataset> read_dataset(std::string_view text, const std::string& name) {
  Dataset dataset;
  const std::map<std::string, std::string*> members{{"title", &dataset.title},
                                                    {"description", &dataset.description},
                                                    {"organisation", &dataset.organisation},
                                                    {"contact_given_name", &dataset.contact_given_name},
                                                    {"contact_surname", &dataset.contact_surname},
                                                    {"contact_email", &dataset.contact_email},
                                                    {"licence", &dataset.licence},
                                                    {"institution_code", &dataset.institution_code},
                                                    {"collection_code", &dataset.collection_code},
                                                    {"language", &dataset.language},
                                                    {"media_uri", &dataset.media_uri}};
  const auto wrong = [&](const std::string& what) {
    std::string known;
    for (const auto& [member, ignored] : members) known += (known.empty() ? "" : ", ") + member;
    return Failure{"exports", "wrong_dataset", fmt::format("{}: {}.", name, what),
                   fmt::format("Write one JSON object whose members are texts: {}.", known)};
  };
  const nlohmann::json json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_object()) return wrong("this is no JSON object");
  for (const auto& [member, value] : json.items()) {
    const auto known = members.find(member);
    if (known == members.end()) return wrong(fmt::format("nothing is called '{}'", member));
    if (!value.is_string()) return wrong(fmt::format("'{}' is no text", member));
    *known->second = value.get<std::string>();
  }
  return dataset;
}

}  // namespace papillote::exports
