#include "pipeline/bench/plan_settings.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>

#include "pipeline/record/csv.h"

namespace papillote::bench {
namespace {

constexpr std::string_view kOwn = "own proposal";

// The one list of all figures: it writes the table, reads it and checks ranges. `say(name, value, unit, meaning, source, least,
// most)`.
template <class Settings, class Say>
void describe(Settings& s, Say&& say) {
  struct SizeSources {
    std::string_view relaxing, drying, groove, pin;
  };
  constexpr std::string_view kBoards = "welt-der-schmetterlinge.de, page on setting boards";
  constexpr std::array<SizeSources, 4> kSources{
      {{"own proposal inside: to 24 h, K. Philip, leps list, 2000; 12-24 h, taxidermy text",
        "USDA collecting text: small, 7 days", kBoards, "size common practice; diameter from memory, even 0.05 mm steps"},
       {"own proposal inside: to 36 h, K. Philip, leps list, 2000; 24-48 h, Lutz", "USDA collecting text: large, 14 days",
        kBoards, "Purdue and NCSU guides: 2 and 3 for general use"},
       {"own proposal inside: 24 h to 168 h, Lutz; C. Thompson, The Relaxer",
        "own proposal inside: 14-28 days by size, setting-board page", kBoards,
        "collecting guides: 3 for medium to large butterflies"},
       {"own proposal inside: 120-168 h, Spanish question page (secondary); 168 h, C. Thompson",
        "setting-board page: to 28 days", kBoards, "common practice: large moths, big dragonflies"}}};
  constexpr std::array<std::string_view, 4> kRelaxingTo{"Spanish question page (secondary): small, 48 h", "Lutz: 24-48 h",
                                                        "Spanish question page (secondary): large, 120-168 h",
                                                        "Spanish question page (secondary): 120-168 h; C. Thompson, The Relaxer: 168 h"};
  for (std::size_t k = 0; k < kSizeClasses.size(); ++k) {
    auto& size = s.sizes[k];
    const std::string name(name_of(kSizeClasses[k]));
    const auto of_size = [&](std::string_view what, auto& value, std::string_view unit, std::string_view meaning,
                             std::string_view source, double least,
                             double most) { say(name + "." + std::string(what), value, unit, meaning, source, least, most); };
    if (k + 1 < kSizeClasses.size())
      of_size("envelope_to_mm", size.envelope_to_mm, "mm", "longer side of the largest envelope of this size; check by eye",
              kOwn, 5, 400);
    of_size("relaxing_hours", size.relaxing_hours, "h", "in the chamber until the first look at whether it gives",
            kSources[k].relaxing, 1, 400);
    of_size("relaxing_to_hours", size.relaxing_to_hours, "h", "in the chamber at most: beyond it mould and grease", kRelaxingTo[k], 1, 400);
    of_size("drying_days", size.drying_days, "days", "on the board", kSources[k].drying, 1, 120);
    of_size("groove_mm", size.groove_mm, "mm", "widest body the board's groove takes; check by eye", kSources[k].groove, 1, 30);
    of_size("pin", size.pin, "", "pin size", kSources[k].pin, 0, 0);
    of_size("along_board_mm", size.along_board_mm, "mm", "length of board that one takes", kOwn, 5, 400);
    of_size("chamber_cm2", size.chamber_cm2, "cm²", "that one takes in a single layer", kOwn, 1, 2000);
    of_size("tray_width_mm", size.tray_width_mm, "mm", "that one takes in a tray when set, label included", kOwn, 5, 400);
    of_size("tray_depth_mm", size.tray_depth_mm, "mm", "that one takes in a tray when set, label included", kOwn, 5, 400);
  }
  say("look_every_hours", s.look_every_hours, "h", "between looks into the chamber", "common practice: every 12-24 h", 1.0,
      48.0);
  say("out_of_paper_hours", s.out_of_paper_hours, "h", "until the insect may leave its paper, if it gives",
      "K. Philip, leps list, 2000: about 8 h; C. Thompson: the second day", 1.0, 96.0);
  say("minutes_to_set", s.minutes_to_set, "min", "to unpack, spread and pin one",
      "Omroep West news on the Leiden project, 2017", 1.0, 120.0);
  say("minutes_to_repaper", s.minutes_to_repaper, "min", "to put one into a new envelope with its label", kOwn, 0.2, 60.0);
  say("bench_minutes_a_day", s.bench_minutes_a_day, "min", "at the bench on a working day", kOwn, 10.0, 1440.0);
  say("board_length_mm", s.board_length_mm, "mm", "usable length of a setting board",
      "welt-der-schmetterlinge.de: boards of 36-40 cm", 50.0, 2000.0);
  say("pin_length_mm", s.pin_length_mm, "mm", "length of a pin", "Fraval, Insectes 129 (INRA)", 10.0, 60.0);
  say("pin_in_foam_mm", s.pin_in_foam_mm, "mm", "of the pin in the foam", kOwn, 2.0, 30.0);
  say("pin_clearance_mm", s.pin_clearance_mm, "mm", "between pin head and lid", kOwn, 0.0, 50.0);
  say("papered_thickness_mm", s.papered_thickness_mm, "mm", "of one filled envelope standing in a row", kOwn, 0.2, 30.0);
  say("empty_thickness_mm", s.empty_thickness_mm, "mm", "of one old envelope, emptied and kept, standing in a row", kOwn, 0.05, 10.0);
  say("spare_share", s.spare_share, "", "more pins, labels and envelopes than specimens", kOwn, 0.0, 1.0);
}

std::string shown(double value) { return fmt::format("{:g}", value); }
std::string shown(const std::string& value) { return value; }

// Empty when taken, otherwise why not.
std::string take(double& into, std::string_view text, double least, double most) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return "is no number";
  if (!(value >= least && value <= most)) return fmt::format("is not within {:g} to {:g}", least, most);
  into = value;
  return {};
}

std::string take(std::string& into, std::string_view text, double, double) {
  const auto& known = pins();
  if (std::none_of(known.begin(), known.end(), [&](const Pin& pin) { return pin.size == text; }))
    return "is no pin size (000 to 7)";
  into = text;
  return {};
}

// The first two cells of a line: enough of CSV for a table whose names and values need no quotes but may have got them.
std::array<std::string, 2> name_and_value(std::string_view line) {
  std::array<std::string, 2> cells;
  std::size_t cell = 0;
  for (std::size_t k = 0; k < line.size() && cell < cells.size(); ++k) {
    if (line[k] == ',')
      ++cell;
    else if (line[k] != '"' && line[k] != '\r')
      cells[cell] += line[k];
  }
  return cells;
}

}  // namespace

std::string_view name_of(SizeClass size) {
  constexpr std::array<std::string_view, 4> kNames{"small", "medium", "large", "very_large"};
  return kNames[static_cast<std::size_t>(size)];
}

std::vector<Figure> figures_of(const PlanSettings& settings) {
  std::vector<Figure> figures;
  describe(settings, [&](std::string_view name, const auto& value, std::string_view unit, std::string_view meaning,
                         std::string_view source, double, double) {
    figures.push_back({std::string(name), shown(value), std::string(unit), std::string(meaning), std::string(source)});
  });
  return figures;
}

std::string settings_csv(const PlanSettings& settings) {
  std::string table = csv_row({"name", "value", "unit", "meaning", "source"});
  for (const Figure& figure : figures_of(settings))
    table += csv_row({figure.name, figure.value, figure.unit, figure.meaning, figure.source});
  return table;
}

Result<PlanSettings> settings_from_csv(std::string_view csv) {
  PlanSettings settings;
  const auto refused = [](std::size_t line, std::string_view why) {
    return Failure{"bench", "wrong_settings", fmt::format("Line {} of the bench settings: {}.", line, why),
                   "Correct the line, or leave it out to keep the figure as it is."};
  };
  for (std::size_t number = 1; !csv.empty(); ++number) {
    const std::size_t end = csv.find('\n');
    const auto [name, value] = name_and_value(csv.substr(0, end));
    csv.remove_prefix(end == std::string_view::npos ? csv.size() : end + 1);
    if (name.empty() || name == "name") continue;
    std::optional<std::string> trouble;
    describe(settings, [&](std::string_view known, auto& figure, std::string_view, std::string_view, std::string_view,
                           double least, double most) {
      if (known == name) trouble = take(figure, value, least, most);
    });
    if (!trouble) return refused(number, fmt::format("\"{}\" is no figure of the plan", name));
    if (!trouble->empty()) return refused(number, fmt::format("{}: \"{}\" {}", name, value, *trouble));
  }
  for (const SizeFigures& size : settings.sizes)
    if (size.relaxing_to_hours < size.relaxing_hours)
      return Failure{"bench", "wrong_settings", "The longest relaxing is shorter than the first look in the bench settings.",
                     "Make relaxing_to_hours no less than relaxing_hours."};
  for (std::size_t k = 1; k + 1 < settings.sizes.size(); ++k)
    if (settings.sizes[k].envelope_to_mm <= settings.sizes[k - 1].envelope_to_mm)
      return Failure{"bench", "wrong_settings", "The sizes of envelopes do not grow from small to large in the bench settings.",
                     "Make each envelope_to_mm larger than the one before."};
  return settings;
}

const std::array<Groove, 4>& grooves() {
  static const std::array<Groove, 4> all{
      {{2, 3}, {3, 5}, {6, 8}, {9, 12}}};  // source: welt-der-schmetterlinge.de, page on setting boards
  return all;
}

Groove groove_for(double body_width_mm) {
  for (const Groove& groove : grooves())
    if (body_width_mm <= groove.most_mm) return groove;  // in a gap of the table: the next wider, own rule
  return grooves().back();
}

const std::array<Pin, 10>& pins() {
  // source: Fraval, Insectes 129 (INRA) for 000, 6 and 7; the others from memory, in even steps of 0.05 mm
  static const std::array<Pin, 10> all{{{"000", 0.25, 38},
                                        {"00", 0.30, 38},
                                        {"0", 0.35, 38},
                                        {"1", 0.40, 38},
                                        {"2", 0.45, 38},
                                        {"3", 0.50, 38},
                                        {"4", 0.55, 38},
                                        {"5", 0.60, 38},
                                        {"6", 0.65, 38},
                                        {"7", 0.70, 52}}};
  return all;
}

}  // namespace papillote::bench
