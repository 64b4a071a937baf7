// From what was chosen to a plan for the bench: relaxing batches, boards, pins, drying, new envelopes, trays and drawers.
//
// Every specimen has one of three outcomes: relaxed and set; put into a new glassine or clear envelope with a printed label;
// left for later. Its old envelope, or the picture of it, stays with it in each. Times are first looks taken from published
// ranges, not promises.
#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/bench/plan_settings.h"
#include "pipeline/record/result.h"

namespace papillote::bench {

enum class Outcome { set, repaper, later };

struct BenchItem {
  std::string id;
  std::string tin;
  std::string group;  // kept together in trays: a taxon, a place
  Outcome outcome = Outcome::later;
  std::optional<double> longest_mm;     // longer side of the envelope; nothing without a scale
  std::optional<double> body_width_mm;  // measured by eye; otherwise the groove follows from the size
};

struct Equipment {
  int chambers = 1;
  double chamber_cm2 = 600;                                               // of one layer in one chamber
  std::array<int, 4> boards{4, 4, 4, 4};                                  // for each of grooves()
  std::array<bool, 7> works{true, true, true, true, true, false, false};  // Monday first
  double tray_width_mm = 55;                                              // of the smallest unit tray, inside; measure your own
  double tray_depth_mm = 110;
  double drawer_width_mm = 400;  // inside
  double drawer_depth_mm = 440;
  double drawer_height_mm = 50;  // from the foam to the lid
};

// A batch as planned; days are those of the bench.
struct Batch {
  int number = 0;  // 1, 2 ...: the name by which the curator shifts it
  SizeClass size = SizeClass::small;
  std::vector<std::string> ids;
  std::vector<std::string> tins;  // opened for it, each once
  std::array<int, 4> boards{};    // taken, for each of grooves()
  std::chrono::sys_days into_chamber;
  std::vector<std::chrono::sys_days> looks;  // after the first day, until it is set
  std::chrono::sys_days on_board;
  std::chrono::sys_days off_board;
  std::vector<std::string> notes;
};

struct RepaperDay {
  std::chrono::sys_days day;
  std::vector<std::string> ids;
};

struct Materials {
  std::map<std::string, int> pins;  // by size, spares included
  int data_labels = 0;              // on pins, spares included
  int code_labels = 0;
  int envelope_labels = 0;
  std::map<SizeClass, int> new_envelopes;
  std::array<int, 4> boards_at_once{};  // most in use on any day, for each of grooves()
};

struct Space {
  std::vector<int> trays;       // of each size, smallest first; each size is twice the one before
  int drawers = 0;              // at least: trays are counted by area
  double needed_height_mm = 0;  // over the foam
  bool high_enough = true;
  double papered_row_mm = 0;  // new envelopes standing in a row
  double waiting_row_mm = 0;  // what is left for later
  double emptied_row_mm = 0;  // old envelopes of what is set or repapered: they stay with the specimens
};

struct Plan {
  std::vector<Batch> batches;  // by day
  std::vector<RepaperDay> repaper;
  std::vector<std::string> later;
  std::vector<std::string> without_size;  // to be set or repapered, but to be measured first
  Materials materials;
  Space space;
};

// Earliest days, tin by tin, no chamber, board or working hour used twice. `not_before` shifts a batch by its number; numbers
// do not depend on days. Failures: "no_chamber", "no_board", "no_working_day", "too_large", "no_time".
[[nodiscard]] Result<Plan> plan_bench(std::vector<BenchItem> items, const PlanSettings&, const Equipment&,
                                      std::chrono::sys_days start, const std::map<int, std::chrono::sys_days>& not_before = {});

[[nodiscard]] std::string_view weekday_name(std::chrono::sys_days);  // "Mon"

[[nodiscard]] SizeClass size_of(double longest_mm, const PlanSettings&);

}  // namespace papillote::bench
