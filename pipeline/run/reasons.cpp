#include "pipeline/run/reasons.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace papillote::run {

std::string why_it_runs(const std::optional<store::Standing>& before, const store::Ingredients& now) {
  if (!before) return "first time";
  const store::Ingredients& old = before->ingredients;
  if (old.version != now.version) return fmt::format("version changed from {} to {}", old.version, now.version);
  if (old.options != now.options) {
    const auto then = nlohmann::json::parse(old.options, nullptr, false);
    const auto today = nlohmann::json::parse(now.options, nullptr, false);
    for (const auto& [name, value] : today.items())
      if (!then.contains(name) || then.at(name) != value)
        return fmt::format("option {} changed from {} to {}", name, then.contains(name) ? then.at(name).dump() : "nothing",
                           value.dump());
    return "options changed";
  }
  for (const auto& [name, identity] : now.inputs) {
    bool same = false;
    for (const auto& [old_name, old_identity] : old.inputs) same = same || (old_name == name && old_identity == identity);
    if (!same) return fmt::format("{} changed", name);
  }
  return "asked again after a failure";
}

}  // namespace papillote::run
