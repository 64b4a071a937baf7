// What a stage says about itself, and the one description of its options.
//
// `Options::describe(options, say)` calls `say(name, member, About)` once per option. That single list feeds
// the command line, its help, the range checks and the key under which answers are remembered.
#pragma once

#include <string_view>

#include <nlohmann/json.hpp>

namespace papillote {

struct Stage {
  std::string_view name;
  int version;  // raise it whenever any answer may change
};

struct About {
  std::string_view unit;   // "mm", "px", "" for a plain number or a text
  std::string_view brief;  // one sentence for -h
  double least;
  double most;
};

template <class Options>
nlohmann::json described(const Options& options) {
  nlohmann::json all = nlohmann::json::object();
  Options::describe(options, [&](std::string_view name, const auto& value, const About&) { all[std::string(name)] = value; });
  return all;
}

// For stages without options.
struct NoOptions {
  template <class Self, class Say>
  static void describe(Self&, Say&&) {}
};

}  // namespace papillote
