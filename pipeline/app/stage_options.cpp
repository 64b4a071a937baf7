#include "pipeline/app/stage_options.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <type_traits>

#include "pipeline/record/stage.h"

namespace papillote::app {
namespace {

template <class Options>
void add(CLI::App& command, const Stage& stage, Options& options) {
  Options::describe(options, [&](std::string_view name, auto& value, const About& about) {
    std::string flag = "--" + std::string(name);
    std::replace(flag.begin(), flag.end(), '_', '-');
    const std::string unit = about.unit.empty() ? "" : fmt::format(" [{}]", about.unit);
    CLI::Option* option = command.add_option(flag, value, std::string(about.brief) + unit)
                              ->group("Options of the stages: " + std::string(stage.name));
    if constexpr (std::is_arithmetic_v<std::remove_reference_t<decltype(value)>>)
      option->check(CLI::Range(about.least, about.most))->capture_default_str();
  });
}

}  // namespace

void add_stage_options(CLI::App& command, LineOptions& options) {
  add(command, calibration::stage, options.calibration);
  add(command, segmentation::stage, options.segmentation);
  add(command, reading::stage, options.reading);
  add(command, interpretation::stage, options.interpretation);
}

}  // namespace papillote::app
