#include "pipeline/bench/plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "pipeline/bench/natural_order.h"

namespace papillote::bench {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr int kMostDaysAhead = 3660;

std::size_t index_of(SizeClass size) { return static_cast<std::size_t>(size); }

std::size_t groove_index(double body_width_mm) {
  const Groove wanted = groove_for(body_width_mm);
  std::size_t index = 0;
  while (grooves()[index].most_mm != wanted.most_mm) ++index;
  return index;
}

int whole(double value) { return static_cast<int>(std::ceil(value - 1e-9)); }

bool works_on(const Equipment& equipment, sys_days day) {
  return equipment.works[std::chrono::weekday(day).iso_encoding() - 1];
}

Failure failure(std::string kind, std::string reason, std::string remedy) {
  return {"bench", std::move(kind), std::move(reason), std::move(remedy)};
}

// What is in use on each day.
class Diary {
 public:
  Diary(const PlanSettings& settings, const Equipment& equipment) : settings_(settings), equipment_(equipment) {}

  [[nodiscard]] bool chamber_free(sys_days from, sys_days to) const {
    for (sys_days day = from; day < to; day += days(1))
      if (use_of(day).chambers >= equipment_.chambers) return false;
    return true;
  }

  [[nodiscard]] bool boards_free(const std::array<int, 4>& boards, sys_days from, sys_days to) const {
    for (sys_days day = from; day < to; day += days(1))
      for (std::size_t groove = 0; groove < boards.size(); ++groove)
        if (use_of(day).boards[groove] + boards[groove] > equipment_.boards[groove]) return false;
    return true;
  }

  [[nodiscard]] double minutes_left(sys_days day) const {
    return works_on(equipment_, day) ? settings_.bench_minutes_a_day - use_of(day).minutes : 0;
  }

  void book(const Batch& batch) {
    for (sys_days day = batch.into_chamber; day < batch.on_board; day += days(1)) ++uses_[day].chambers;
    for (sys_days day = batch.on_board; day < batch.off_board; day += days(1))
      for (std::size_t groove = 0; groove < batch.boards.size(); ++groove) uses_[day].boards[groove] += batch.boards[groove];
    book_minutes(batch.on_board, static_cast<double>(batch.ids.size()) * settings_.minutes_to_set);
  }

  void book_minutes(sys_days day, double minutes) { uses_[day].minutes += minutes; }

  [[nodiscard]] std::array<int, 4> boards_at_once() const {
    std::array<int, 4> most{};
    for (const auto& [day, use] : uses_)
      for (std::size_t groove = 0; groove < most.size(); ++groove) most[groove] = std::max(most[groove], use.boards[groove]);
    return most;
  }

 private:
  struct Use {
    int chambers = 0;
    std::array<int, 4> boards{};
    double minutes = 0;
  };

  [[nodiscard]] Use use_of(sys_days day) const {
    const auto at = uses_.find(day);
    return at == uses_.end() ? Use{} : at->second;
  }

  const PlanSettings& settings_;
  const Equipment& equipment_;
  std::map<sys_days, Use> uses_;
};

// A batch in the making: what goes into one chamber together and is set on one day.
struct Load {
  SizeClass size = SizeClass::small;
  std::vector<const BenchItem*> items;
  double area_cm2 = 0;
  std::array<double, 4> along_mm{};  // of board, for each groove

  [[nodiscard]] std::array<int, 4> boards(const PlanSettings& settings) const {
    std::array<int, 4> count{};
    // Whole specimens on a board: a length left over at its end is lost.
    const double each = settings.sizes[index_of(size)].along_board_mm;
    const int on_one = std::max(1, static_cast<int>(settings.board_length_mm / each + 1e-9));
    for (std::size_t groove = 0; groove < count.size(); ++groove) count[groove] = whole(along_mm[groove] / each / on_one);
    return count;
  }
};

std::size_t groove_of(const BenchItem& item, SizeClass size, const PlanSettings& settings) {
  return groove_index(item.body_width_mm ? *item.body_width_mm : settings.sizes[index_of(size)].groove_mm);
}

Result<std::vector<Load>> loads_of(const std::vector<const BenchItem*>& to_set, const PlanSettings& settings,
                                   const Equipment& equipment) {
  std::vector<Load> loads;
  for (const BenchItem* item : to_set) {
    const SizeClass size = size_of(*item->longest_mm, settings);
    const SizeFigures& figures = settings.sizes[index_of(size)];
    const std::size_t groove = groove_of(*item, size, settings);
    if (figures.chamber_cm2 > equipment.chamber_cm2)
      return failure("too_large",
                     fmt::format("A {} specimen needs {:g} cm² and the relaxing chamber has {:g}.", name_of(size),
                                 figures.chamber_cm2, equipment.chamber_cm2),
                     "Name a larger chamber, or leave these for later.");
    if (figures.along_board_mm > settings.board_length_mm)
      return failure("too_large",
                     fmt::format("A {} specimen needs {:g} mm of board and a board has {:g}.", name_of(size),
                                 figures.along_board_mm, settings.board_length_mm),
                     "Correct board_length_mm, or leave these for later.");
    const auto fits = [&](Load load) {
      load.along_mm[groove] += figures.along_board_mm;
      const std::array<int, 4> boards = load.boards(settings);
      for (std::size_t k = 0; k < boards.size(); ++k)
        if (boards[k] > equipment.boards[k]) return false;
      return load.area_cm2 + figures.chamber_cm2 <= equipment.chamber_cm2 + 1e-9 &&
             static_cast<double>(load.items.size() + 1) * settings.minutes_to_set <= settings.bench_minutes_a_day + 1e-9;
    };
    if (loads.empty() || loads.back().size != size || !fits(loads.back())) {
      loads.push_back({size, {}, 0, {}});
      if (equipment.boards[groove] < 1)
        return failure("no_board",
                       fmt::format("There is no setting board with a groove of {:g} to {:g} mm.", grooves()[groove].least_mm,
                                   grooves()[groove].most_mm),
                       "Name how many boards of that groove there are, or leave these for later.");
      if (!fits(loads.back()))
        return failure("no_time", "A working day at the bench is too short to set one specimen.",
                       "Raise bench_minutes_a_day or lower minutes_to_set.");
    }
    loads.back().items.push_back(item);
    loads.back().area_cm2 += figures.chamber_cm2;
    loads.back().along_mm[groove] += figures.along_board_mm;
  }
  return loads;
}

void add_looks(Batch& batch, sys_days ready, const PlanSettings& settings, const Equipment& equipment) {
  const int every = std::max(1, static_cast<int>(settings.look_every_hours / 24));
  std::string off;
  for (sys_days look = batch.into_chamber + days(1); look < batch.on_board; look += days(every)) {
    batch.looks.push_back(look);
    if (!works_on(equipment, look)) off += fmt::format("{}{}", off.empty() ? "" : ", ", weekday_name(look));
  }
  if (!off.empty()) batch.notes.push_back("someone looks in on " + off);
  if (const double hours = 24.0 * static_cast<double>((batch.on_board - batch.into_chamber).count());
      hours > settings.sizes[index_of(batch.size)].relaxing_to_hours)
    batch.notes.push_back(fmt::format("lies {:g} h in the chamber, longer than the {:g} h in use: shift it, or look every day", hours,
                                      settings.sizes[index_of(batch.size)].relaxing_to_hours));
  else if (batch.on_board > ready)
    batch.notes.push_back(fmt::format("waits {} days after its first look: look for mould", (batch.on_board - ready).count()));
}

// The earliest days on which everything the load needs is free. Both ends fall on working days; relaxing is drawn out over days
// off only where the week leaves no other way, for it brings mould.
Result<Batch> placed(const Load& load, int number, const PlanSettings& settings, const Equipment& equipment, const Diary& diary,
                     sys_days start) {
  const SizeFigures& figures = settings.sizes[index_of(load.size)];
  Batch batch;
  batch.number = number;
  batch.size = load.size;
  batch.boards = load.boards(settings);
  for (const BenchItem* item : load.items) {
    batch.ids.push_back(item->id);
    if (batch.tins.empty() || batch.tins.back() != item->tin) batch.tins.push_back(item->tin);
  }
  const days relaxing(std::max(1, whole(figures.relaxing_hours / 24)));
  const days drying(whole(figures.drying_days));
  const double minutes = static_cast<double>(load.items.size()) * settings.minutes_to_set;
  for (int waiting = 0; waiting < 7; ++waiting)
    for (int ahead = 0; ahead < kMostDaysAhead; ++ahead) {
      batch.into_chamber = start + days(ahead);
      batch.on_board = batch.into_chamber + relaxing + days(waiting);
      batch.off_board = batch.on_board + drying;
      if (!works_on(equipment, batch.into_chamber) || diary.minutes_left(batch.on_board) + 1e-9 < minutes ||
          !diary.chamber_free(batch.into_chamber, batch.on_board) ||
          !diary.boards_free(batch.boards, batch.on_board, batch.off_board))
        continue;
      add_looks(batch, batch.into_chamber + relaxing, settings, equipment);
      return batch;
    }
  return failure("no_working_day", fmt::format("Batch {} finds no day within ten years.", number),
                 "Free a chamber, boards or working days.");
}

int with_spares(std::size_t count, const PlanSettings& settings) {
  return count == 0 ? 0 : whole(static_cast<double>(count) * (1 + settings.spare_share));
}

// Each group in the smallest tray that holds it, beyond the largest in several of those.
Space space_of(const std::vector<const BenchItem*>& set, const PlanSettings& settings, const Equipment& equipment) {
  Space space;
  space.needed_height_mm = settings.pin_length_mm - settings.pin_in_foam_mm + settings.pin_clearance_mm;
  space.high_enough = set.empty() || equipment.drawer_height_mm >= space.needed_height_mm;

  struct Tray {
    double width, depth;
  };
  std::vector<Tray> sizes{{equipment.tray_width_mm, equipment.tray_depth_mm}};
  for (;;) {  // source: C. Sturm, shell collectors' list, 1999: each size is twice the next smaller, and together they fill the
              // drawer
    Tray next = sizes.back();
    (next.width <= next.depth ? next.width : next.depth) *= 2;
    if (next.width > equipment.drawer_width_mm || next.depth > equipment.drawer_depth_mm) break;
    sizes.push_back(next);
  }
  space.trays.assign(sizes.size(), 0);
  const auto holds = [](const Tray& tray, double width, double depth) {
    return static_cast<int>(tray.width / width + 1e-9) * static_cast<int>(tray.depth / depth + 1e-9);
  };

  std::map<std::pair<std::string, std::size_t>, int> groups;  // by group and size: like stands with like
  for (const BenchItem* item : set) ++groups[{item->group, index_of(size_of(*item->longest_mm, settings))}];
  double units = 0;
  for (auto [group, count] : groups) {
    const SizeFigures& figures = settings.sizes[group.second];
    while (count > 0) {
      std::size_t tray = 0;
      while (tray + 1 < sizes.size() && holds(sizes[tray], figures.tray_width_mm, figures.tray_depth_mm) < count) ++tray;
      ++space.trays[tray];
      units += std::pow(2.0, static_cast<double>(tray));
      count -= std::max(1, holds(sizes[tray], figures.tray_width_mm, figures.tray_depth_mm));
    }
  }
  const double in_drawer = std::max(1.0, std::floor(equipment.drawer_width_mm / equipment.tray_width_mm) *
                                             std::floor(equipment.drawer_depth_mm / equipment.tray_depth_mm));
  space.drawers = whole(units / in_drawer);
  return space;
}

}  // namespace

std::string_view weekday_name(sys_days day) {
  constexpr std::array<std::string_view, 7> kNames{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
  return kNames[std::chrono::weekday(day).iso_encoding() - 1];
}

SizeClass size_of(double longest_mm, const PlanSettings& settings) {
  for (const SizeClass size : {SizeClass::small, SizeClass::medium, SizeClass::large})
    if (longest_mm <= settings.sizes[index_of(size)].envelope_to_mm) return size;
  return SizeClass::very_large;
}

Result<Plan> plan_bench(std::vector<BenchItem> items, const PlanSettings& settings, const Equipment& equipment, sys_days start,
                        const std::map<int, sys_days>& not_before) {
  if (std::none_of(equipment.works.begin(), equipment.works.end(), [](bool works) { return works; }))
    return failure("no_working_day", "No day of the week is a working day.", "Name at least one.");

  Plan plan;
  std::vector<const BenchItem*> to_set;
  std::vector<const BenchItem*> to_repaper;
  for (const BenchItem& item : items) {
    if (item.outcome == Outcome::later)
      plan.later.push_back(item.id);
    else if (!item.longest_mm)
      plan.without_size.push_back(item.id);
    else
      (item.outcome == Outcome::set ? to_set : to_repaper).push_back(&item);
  }
  if (!to_set.empty() && (equipment.chambers < 1 || equipment.chamber_cm2 <= 0))
    return failure("no_chamber", "There is no relaxing chamber.", "Name at least one with its area, or set nothing.");

  const auto by_tin = [](const BenchItem* a, const BenchItem* b) {
    const int tins = natural_compare(a->tin, b->tin);
    return tins != 0 ? tins < 0 : a->id < b->id;
  };
  std::sort(to_set.begin(), to_set.end(), [&](const BenchItem* a, const BenchItem* b) {
    const SizeClass of_a = size_of(*a->longest_mm, settings);
    const SizeClass of_b = size_of(*b->longest_mm, settings);
    return of_a != of_b ? of_a < of_b : by_tin(a, b);
  });
  std::sort(to_repaper.begin(), to_repaper.end(), by_tin);

  const auto loads = loads_of(to_set, settings, equipment);
  if (!loads.ok()) return loads.failure();
  Diary diary(settings, equipment);
  int number = 0;
  for (const Load& load : *loads) {
    ++number;
    const auto shifted = not_before.find(number);
    auto batch = placed(load, number, settings, equipment, diary,
                        shifted == not_before.end() ? start : std::max(start, shifted->second));
    if (!batch.ok()) return batch.failure();
    diary.book(*batch);
    plan.batches.push_back(std::move(batch).value());
  }
  std::stable_sort(plan.batches.begin(), plan.batches.end(),
                   [](const Batch& a, const Batch& b) { return a.into_chamber < b.into_chamber; });

  sys_days day = start;
  for (const BenchItem* item : to_repaper) {  // in what is left of the working days
    if (settings.minutes_to_repaper > settings.bench_minutes_a_day)
      return failure("no_time", "A working day at the bench is too short to repaper one specimen.",
                     "Raise bench_minutes_a_day or lower minutes_to_repaper.");
    while (diary.minutes_left(day) + 1e-9 < settings.minutes_to_repaper) day += days(1);
    diary.book_minutes(day, settings.minutes_to_repaper);
    if (plan.repaper.empty() || plan.repaper.back().day != day) plan.repaper.push_back({day, {}});
    plan.repaper.back().ids.push_back(item->id);
  }

  std::map<std::string, std::size_t> pins;
  for (const BenchItem* item : to_set) ++pins[settings.sizes[index_of(size_of(*item->longest_mm, settings))].pin];
  for (const auto& [size, count] : pins) plan.materials.pins[size] = with_spares(count, settings);
  std::map<SizeClass, std::size_t> envelopes;
  for (const BenchItem* item : to_repaper) ++envelopes[size_of(*item->longest_mm, settings)];
  for (const auto& [size, count] : envelopes) plan.materials.new_envelopes[size] = with_spares(count, settings);
  plan.materials.data_labels = with_spares(to_set.size(), settings);
  plan.materials.code_labels = with_spares(to_set.size(), settings);
  plan.materials.envelope_labels = with_spares(to_repaper.size(), settings);
  plan.materials.boards_at_once = diary.boards_at_once();

  plan.space = space_of(to_set, settings, equipment);
  plan.space.papered_row_mm = static_cast<double>(to_repaper.size()) * settings.papered_thickness_mm;
  plan.space.emptied_row_mm = static_cast<double>(to_set.size() + to_repaper.size()) * settings.empty_thickness_mm;
  plan.space.waiting_row_mm = static_cast<double>(plan.later.size() + plan.without_size.size()) * settings.papered_thickness_mm;
  return plan;
}

}  // namespace papillote::bench
