#include <fmt/format.h>

#include <chrono>
#include <map>
#include <nlohmann/json.hpp>

#include "pipeline/exports/exporter.h"

namespace papillote::exports {
namespace {

bool is_year_or_day(const std::string& text) {
  constexpr std::string_view kShape = "0000-00-00";
  if (text.size() != 4 && text.size() != kShape.size()) return false;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (kShape[i] == '-' ? text[i] != '-' : text[i] < '0' || text[i] > '9') return false;
  const auto number = [&](std::size_t at, std::size_t digits) { return std::stoi(text.substr(at, digits)); };
  if (text.size() == 4) return true;
  return std::chrono::year_month_day(std::chrono::year(number(0, 4)), std::chrono::month(static_cast<unsigned>(number(5, 2))),
                                     std::chrono::day(static_cast<unsigned>(number(8, 2))))
      .ok();
}

}  // namespace

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
                                                    {"published", &dataset.published},
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
  if (!dataset.published.empty() && !is_year_or_day(dataset.published)) return wrong("'published' is neither a year nor a day such as 2026-05-01");
  return dataset;
}

}  // namespace papillote::exports
