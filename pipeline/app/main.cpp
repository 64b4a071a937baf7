// papillote: arguments -> command -> exit code, nothing else.
#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <exception>
#include <functional>
#include <iostream>
#include <map>
#include <opencv2/core/utility.hpp>
#include <vector>

#include "pipeline/app/command.h"
#include "pipeline/app/memory.h"

namespace papillote::app {
namespace commands {
const std::vector<const Command*>& all();
}

namespace {

// Number of single-letter changes between two words.
std::size_t edits_between(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U)});
      diagonal = above;
    }
  }
  return row.back();
}

std::string nearest_command(std::string_view word) {
  std::string best;
  std::size_t fewest = 3;
  for (const Command* command : commands::all()) {
    const std::size_t edits = edits_between(word, command->name);
    if (edits < fewest) {
      fewest = edits;
      best = command->name;
    }
  }
  return best;
}

ExitCode wrong_command(const CLI::App& app, const CLI::ParseError& error, int argc, char** argv) {
  std::string reason = error.what();
  std::string hint;
  const CLI::App* asked = &app;
  for (const CLI::App* sub : app.get_subcommands()) asked = sub;
  if (asked == &app) {
    if (argc < 2) {
      std::cerr << app.help();
      return kWrongCommand;
    }
    const std::string word = argv[1];
    if (!word.starts_with('-')) {
      reason = fmt::format("'{}' is no command of papillote.", word);
      if (const std::string near = nearest_command(word); !near.empty()) hint = fmt::format(" Did you mean '{}'?", near);
    }
  }
  const std::string help = asked == &app ? "papillote --help" : fmt::format("papillote {} --help", asked->get_name());
  std::cerr << fmt::format("papillote: {}{} See '{}'.\n", reason, hint, help);
  return kWrongCommand;
}

int run(int argc, char** argv) {
  CLI::App app{
      "papillote: from photographs of papered specimens to a searchable index and a pick list.\n"
      "Photograph a tin sheet by sheet, run 'process' overnight, then 'search' and 'pick'."};
  app.set_version_flag("--version", "papillote " PAPILLOTE_VERSION);
  app.require_subcommand(1);
  app.get_formatter()->column_width(34);
  app.footer(
      "Exit codes: 0 all done, 1 cannot start or go on, 2 wrong command, 3 finished but some photographs failed,\n"
      "4 another batch holds the collection, 130 interrupted (the same command goes on where it stopped).");
  std::map<const CLI::App*, std::function<ExitCode()>> runs;
  for (const Command* command : commands::all()) {
    CLI::App* sub = app.add_subcommand(std::string(command->name), std::string(command->brief));
    sub->group(std::string(command->group));
    sub->footer(std::string(command->text));
    runs[sub] = command->setup(*sub);
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::Success& asked_for_help) {
    return app.exit(asked_for_help);
  } catch (const CLI::ParseError& error) {
    return wrong_command(app, error, argc, argv);
  }
  return runs.at(app.get_subcommands().front())();
}

}  // namespace
}  // namespace papillote::app

int main(int argc, char** argv) {
  // Tesseract's OpenMP reads this before main runs, and its threads slow down a batch that is parallel already.
  if (std::getenv("OMP_THREAD_LIMIT") == nullptr) {
    setenv("OMP_THREAD_LIMIT", "1", 0);
    execv("/proc/self/exe", argv);  // on failure the program goes on, only slower
  }
  cv::setNumThreads(1);
  papillote::app::keep_freed_memory();
  try {
    return papillote::app::run(argc, argv);
  } catch (const std::exception& error) {
    std::cerr << "papillote: stopped by an unexpected error: " << error.what() << ". Please report it.\n";
    return papillote::app::kCannotGoOn;
  }
}
