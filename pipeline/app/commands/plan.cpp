// papillote plan: from a question to a bench plan with its calendar.
#include <fmt/format.h>

#include <charconv>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <memory>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/question.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/plan_sheet.h"
#include "pipeline/bench/save.h"
#include "pipeline/store/index.h"
#include "pipeline/store/movements.h"
#include "stages/interpretation/edtf.h"

namespace papillote::app::commands {
namespace {

struct PlanAsked {
  Asked filters;
  std::string collection;
  std::string output;
  std::string choices;
  std::string settings;
  bool print_settings = false;
  std::string start;
  std::vector<std::string> shifts;
  bench::Equipment equipment;
};

Failure wrong(std::string reason, std::string remedy) { return {"app", "wrong_command", std::move(reason), std::move(remedy)}; }

Result<std::string> text_of(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return wrong(file + " cannot be read.", "Name a file that exists.");
  return std::string{std::istreambuf_iterator<char>(in), {}};
}

Result<std::chrono::sys_days> day_in(const std::string& text) {
  const auto edtf = interpretation::parse_edtf(text);
  const auto bounds = edtf ? interpretation::day_bounds(*edtf) : interpretation::DayBounds{};
  if (!bounds.first || bounds.first != bounds.last)
    return wrong(fmt::format("\"{}\" is no day.", text), "Write it as 2026-11-25.");
  return *bounds.first;
}

Result<std::map<int, std::chrono::sys_days>> shifts_in(const std::vector<std::string>& texts) {
  std::map<int, std::chrono::sys_days> shifts;
  for (const std::string& text : texts) {
    const std::size_t equals = text.find('=');
    int number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + std::min(equals, text.size()), number);
    if (equals == std::string::npos || error != std::errc{} || end != text.data() + equals)
      return wrong(fmt::format("\"{}\" shifts no batch.", text),
                   "Write the number of the batch and its first day, as in 3=2026-12-07.");
    const auto day = day_in(text.substr(equals + 1));
    if (!day.ok()) return day.failure();
    shifts[number] = *day;
  }
  return shifts;
}

struct Choice {
  bench::Outcome outcome = bench::Outcome::set;
  std::optional<double> body_width_mm;
};

// Lines of id,outcome[,body width in mm]; a head line and empty lines are passed over.
Result<std::map<std::string, Choice>> choices_in(const std::string& file) {
  const auto text = text_of(file);
  if (!text.ok()) return text.failure();
  const std::map<std::string, bench::Outcome> outcomes{
      {"set", bench::Outcome::set}, {"repaper", bench::Outcome::repaper}, {"later", bench::Outcome::later}};
  std::map<std::string, Choice> choices;
  std::string_view rest = *text;
  for (int line = 1; !rest.empty(); ++line) {
    const std::size_t end = rest.find('\n');
    std::string row(rest.substr(0, end));
    rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    if (!row.empty() && row.back() == '\r') row.pop_back();
    if (row.empty() || row.starts_with("id,")) continue;
    const std::size_t first = row.find(',');
    const std::size_t second = row.find(',', first == std::string::npos ? first : first + 1);
    const auto outcome = first == std::string::npos ? outcomes.end() : outcomes.find(row.substr(first + 1, second - first - 1));
    if (outcome == outcomes.end())
      return wrong(fmt::format("{}, line {}: no outcome.", file, line),
                   "Write an identity and set, repaper or later, as in K3V7Q2M9X1A,set.");
    Choice choice{outcome->second, std::nullopt};
    if (second != std::string::npos && second + 1 < row.size()) {
      double width = 0;
      const auto [stop, error] = std::from_chars(row.data() + second + 1, row.data() + row.size(), width);
      if (error != std::errc{} || stop != row.data() + row.size() || !(width > 0 && width < 100))
        return wrong(fmt::format("{}, line {}: no width of a body in mm.", file, line),
                     "Write a number such as 4.5, or nothing.");
      choice.body_width_mm = width;
    }
    choices[row.substr(0, first)] = choice;
  }
  return choices;
}

// Papered still: in its tin, or taken out of it.
bool is_at_hand(const std::optional<store::Movement>& last) {
  return store::in_its_tin(last) || last->kind == "picked" || last->kind == "frozen" || last->kind == "found";
}

Result<std::vector<bench::BenchItem>> items_of(store::Store& store, const PlanAsked& asked) {
  auto question = question_of(asked.filters, asked.collection);
  if (!question.ok()) return question.failure();
  question->limit = 0;
  question->order = store::Order::shelf;
  std::optional<std::map<std::string, Choice>> choices;
  if (!asked.choices.empty()) {
    auto read = choices_in(asked.choices);
    if (!read.ok()) return read.failure();
    choices = std::move(read).value();
  }
  std::vector<bench::BenchItem> items;
  int elsewhere = 0;
  for (const store::Hit& hit : store::search(store, *question).hits) {
    if (!is_at_hand(store::whereabouts(store, hit.id))) {
      ++elsewhere;
      continue;
    }
    bench::BenchItem item{hit.id,       hit.tin,     hit.taxon.empty() ? hit.tin : hit.taxon, bench::Outcome::set,
                          std::nullopt, std::nullopt};
    if (choices) {
      const auto choice = choices->find(hit.id);
      item.outcome = choice == choices->end() ? bench::Outcome::later : choice->second.outcome;
      if (choice != choices->end()) item.body_width_mm = choice->second.body_width_mm;
    }
    for (const store::EnvelopeView& view : store::views_of(store, hit.id))
      if (const auto& size = view.record.outline.size_mm) {
        item.longest_mm = std::max(size->x, size->y);
        break;
      }
    items.push_back(std::move(item));
  }
  if (elsewhere > 0) std::cerr << fmt::format("{} are left out: missing, housed, or on the bench already. See 'papillote whereabouts --out'.\n", elsewhere);
  return items;
}

Result<Done> plan_from(store::Store& store, const PlanAsked& asked, const bench::PlanSettings& settings) {
  const std::string made = now_utc();
  const auto start = day_in(asked.start.empty() ? made.substr(0, 10) : asked.start);
  if (!start.ok()) return start.failure();
  const auto shifts = shifts_in(asked.shifts);
  if (!shifts.ok()) return shifts.failure();
  auto items = items_of(store, asked);
  if (!items.ok()) return items.failure();
  const auto plan = bench::plan_bench(std::move(items).value(), settings, asked.equipment, *start, *shifts);
  if (!plan.ok()) return plan.failure();
  std::filesystem::path table = asked.output;
  table.replace_extension(".csv");
  if (auto saved = bench::save(asked.output, bench::plan_pdf(*plan, settings, made)); !saved.ok()) return saved;
  if (auto saved = bench::save(table, bench::plan_csv(*plan)); !saved.ok()) return saved;
  std::cout << fmt::format("{}\n{}\n", asked.output, table.string());
  return Done{};
}

ExitCode refused(const Failure& failure) {
  const ExitCode code = said(failure);
  return failure.kind == "unwritable" || code == kStoreBusy ? code : kWrongCommand;
}

ExitCode run(const PlanAsked& asked) {
  bench::PlanSettings settings;
  if (!asked.settings.empty()) {
    const auto text = text_of(asked.settings);
    if (!text.ok()) return refused(text.failure());
    const auto read = bench::settings_from_csv(*text);
    if (!read.ok()) return refused(read.failure());
    settings = *read;
  }
  if (asked.print_settings) {
    std::cout << bench::settings_csv(settings);
    return kAllDone;
  }
  if (asked.collection.empty() || std::filesystem::path(asked.output).extension() != ".pdf")
    return refused(
        wrong("A plan needs --collection and -o with a name that ends in .pdf.", "The table is written beside it as .csv."));
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    const auto planned = plan_from(store, asked, settings);
    return planned.ok() ? kAllDone : refused(planned.failure());
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<PlanAsked>();
  bench::Equipment& equipment = asked->equipment;
  add_filters(command, asked->filters);
  command.add_option("--collection", asked->collection, "Folder that holds the index.");
  command.add_option("-o,--output", asked->output, "PDF to write; the table goes beside it as .csv.");
  command.add_option("--choices", asked->choices,
                     "CSV of id,outcome[,body width in mm]: set, repaper or later; what it leaves out is left for later.");
  command.add_option("--settings", asked->settings, "CSV of figures to use instead of the printed ones; see --print-settings.");
  command.add_flag("--print-settings", asked->print_settings, "Print all figures with their sources, as CSV, and stop.");
  command.add_option("--start", asked->start, "First day (default: today).");
  command.add_option("--shift", asked->shifts, "Batch=day: not before this day; may be repeated.");
  command.add_option("--chambers", equipment.chambers, "Relaxing chambers.")->check(CLI::Range(0, 100))->capture_default_str();
  command.add_option("--chamber-cm2", equipment.chamber_cm2, "Area of one layer in one chamber.")
      ->check(CLI::Range(1.0, 1e6))
      ->capture_default_str();
  command.add_option("--boards", equipment.boards, "Setting boards of groove 2-3, 3-5, 6-8 and 9-12 mm.")
      ->delimiter(',')
      ->check(CLI::Range(0, 1000))
      ->capture_default_str();
  command.add_option("--tray-width-mm", equipment.tray_width_mm, "Smallest unit tray, inside.")
      ->check(CLI::Range(5.0, 1000.0))
      ->capture_default_str();
  command.add_option("--tray-depth-mm", equipment.tray_depth_mm, "Smallest unit tray, inside.")
      ->check(CLI::Range(5.0, 1000.0))
      ->capture_default_str();
  command.add_option("--drawer-width-mm", equipment.drawer_width_mm, "Drawer, inside.")
      ->check(CLI::Range(50.0, 3000.0))
      ->capture_default_str();
  command.add_option("--drawer-depth-mm", equipment.drawer_depth_mm, "Drawer, inside.")
      ->check(CLI::Range(50.0, 3000.0))
      ->capture_default_str();
  command.add_option("--drawer-height-mm", equipment.drawer_height_mm, "Drawer, from the foam to the lid.")
      ->check(CLI::Range(1.0, 500.0))
      ->capture_default_str();
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command plan;
const Command plan{"plan", "Bench", "Plan relaxing, setting and repapering: batches, boards, pins, drying, trays, calendar.",
                   "Works from measured envelope sizes; check bodies by eye. Every figure has its source and can be changed.\n"
                   "Example: papillote plan --taxon Parnassius --collection tins --boards 4,4,2,1 -o plan.pdf",
                   setup};

}  // namespace papillote::app::commands
