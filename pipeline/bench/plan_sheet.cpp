#include "pipeline/bench/plan_sheet.h"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "pipeline/bench/cautions.h"
#include "pipeline/record/csv.h"
#include "pipeline/bench/flow.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr double kWidth = 210 - 2 * kMarginMm;
constexpr Ink kRelaxing = ink_of(0xd9a441);
constexpr Ink kDrying = ink_of(0x8aa399);

std::string day_words(sys_days day) {
  const std::chrono::year_month_day date(day);
  return fmt::format("{} {:04}-{:02}-{:02}", weekday_name(day), static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

std::string iso_words(sys_days day) { return day_words(day).substr(4); }

std::string groove_words(std::size_t groove) {
  return fmt::format("{:g}–{:g} mm", grooves()[groove].least_mm, grooves()[groove].most_mm);
}

std::string size_words(SizeClass size) { return kind_words(std::string(name_of(size))); }

std::string board_words(const std::array<int, 4>& boards) {
  std::vector<std::string> parts;
  for (std::size_t k = 0; k < boards.size(); ++k)
    if (boards[k] > 0) parts.push_back(fmt::format("{} × {}", boards[k], groove_words(k)));
  return joined(parts, ", ");
}

// What happens on each day, in the order of a morning's work.
std::map<sys_days, std::vector<std::string>> calendar_of(const Plan& plan, const PlanSettings& settings) {
  std::map<sys_days, std::vector<std::string>> calendar;
  for (const Batch& batch : plan.batches) {
    const std::string& pin = settings.sizes[static_cast<std::size_t>(batch.size)].pin;
    calendar[batch.off_board].push_back(fmt::format("Batch {}: off the boards if dry; label, house, record", batch.number));
    calendar[batch.on_board].push_back(fmt::format("Batch {}: set {} {} on boards {}, pins {}, if they give", batch.number,
                                                   batch.ids.size(), size_words(batch.size), board_words(batch.boards), pin));
    for (const sys_days look : batch.looks)
      calendar[look].push_back(fmt::format("Batch {}: look in; force nothing, watch for mould", batch.number));
    calendar[batch.into_chamber].push_back(
        fmt::format("Batch {}: {} {} into the chamber for {:g} to {:g} h, from tin{} {}; out of the paper after {:g} h if it gives", batch.number,
                    batch.ids.size(), size_words(batch.size), settings.sizes[static_cast<std::size_t>(batch.size)].relaxing_hours,
                    settings.sizes[static_cast<std::size_t>(batch.size)].relaxing_to_hours, batch.tins.size() == 1 ? "" : "s",
                    fmt::join(batch.tins, ", "), settings.out_of_paper_hours));
  }
  for (const RepaperDay& day : plan.repaper)
    calendar[day.day].push_back(
        fmt::format("Repaper {}: new envelope, printed label, the old envelope or its picture kept with it", day.ids.size()));
  return calendar;
}

void draw_strip(Flow& flow, const Plan& plan) {
  constexpr double kLabel = 34;
  constexpr double kLine = 4.6;
  const sys_days first = plan.batches.front().into_chamber;
  sys_days last = first;
  for (const Batch& batch : plan.batches) last = std::max(last, batch.off_board);
  const double day_width = (kWidth - kLabel) / static_cast<double>((last - first).count() + 1);
  const auto x_of = [&](sys_days day) { return kMarginMm + kLabel + static_cast<double>((day - first).count()) * day_width; };

  std::size_t next = 0;
  while (next < plan.batches.size()) {
    Page& head = flow.room_for(8 + 3 * kLine);
    const auto fitting = static_cast<std::size_t>(std::max(3.0, (head.height() - 15 - flow.y - 8) / kLine));
    const std::size_t shown = std::min(plan.batches.size() - next, fitting);
    const double bottom = flow.y + 5 + static_cast<double>(shown) * kLine;
    // Mondays, as many of them as have room for a date.
    const int every = std::max(1, static_cast<int>(std::ceil(15 / (7 * day_width))));
    int monday = 0;
    for (sys_days day = first; day <= last; day += days(1)) {
      if (std::chrono::weekday(day) != std::chrono::Monday) continue;
      head.line({x_of(day), flow.y + 4}, {x_of(day), bottom}, kRule, kHairlineMm);
      if (monday++ % every == 0) head.write({x_of(day), flow.y}, 20, iso_words(day).substr(5), lines(kSmall, 1));
    }
    flow.y += 5;
    for (std::size_t k = next; k < next + shown; ++k) {
      const Batch& batch = plan.batches[k];
      head.write({kMarginMm, flow.y}, kLabel - 2,
                 fmt::format("{} · {} {}", batch.number, batch.ids.size(), size_words(batch.size)), lines(kBody, 1));
      head.fill({x_of(batch.into_chamber), flow.y + 0.4, x_of(batch.on_board) - x_of(batch.into_chamber), kLine - 1.4},
                kRelaxing);
      head.fill({x_of(batch.on_board), flow.y + 0.4, x_of(batch.off_board) - x_of(batch.on_board), kLine - 1.4}, kDrying);
      flow.y += kLine;
    }
    next += shown;
    if (next < plan.batches.size()) flow.y = head.height();
  }
  Page& page = flow.room_for(6);
  page.fill({kMarginMm + kLabel, flow.y + 1.6, 3, 2}, kRelaxing);
  page.write({kMarginMm + kLabel + 4, flow.y + 1}, 20, "relaxing", kSmall);
  page.fill({kMarginMm + kLabel + 24, flow.y + 1.6, 3, 2}, kDrying);
  page.write({kMarginMm + kLabel + 28, flow.y + 1}, 30, "drying on boards", kSmall);
  flow.y += 8;
}

void draw_caps(Flow& flow, std::string_view words) {
  flow.room_for(14).write({kMarginMm, flow.y}, kWidth, words, kCaps);
  flow.y += 4.4;
}

void draw_calendar(Flow& flow, const Plan& plan, const PlanSettings& settings) {
  draw_caps(flow, "DAY BY DAY");
  constexpr double kDay = 28;
  for (const auto& [day, works] : calendar_of(plan, settings)) {
    const Page& measured = flow.room_for(0);
    double height = 1.6;
    for (const std::string& work : works) height += measured.height_of(kWidth - kDay - 6, work, kBody) + 0.9;
    Page& page = flow.room_for(height);
    page.line({kMarginMm, flow.y}, {kMarginMm + kWidth, flow.y}, kRule, kHairlineMm);
    page.write({kMarginMm, flow.y + 1}, kDay, day_words(day), lines(kStrong, 1));
    double y = flow.y + 1;
    for (const std::string& work : works) {
      page.frame({kMarginMm + kDay, y + 0.3, 2.6, 2.6}, kText, 0.2);
      y += page.write({kMarginMm + kDay + 5, y}, kWidth - kDay - 6, work, kBody) + 0.9;
    }
    flow.y += height;
  }
  flow.y += 4;
}

void draw_rows(Flow& flow, const std::vector<std::pair<std::string, std::string>>& rows) {
  constexpr double kName = 62;
  for (const auto& [name, value] : rows) {
    const double height = flow.room_for(0).height_of(kWidth - kName, value, kBody) + 1.4;
    Page& page = flow.room_for(height);
    page.line({kMarginMm, flow.y}, {kMarginMm + kWidth, flow.y}, kRule, kHairlineMm);
    page.write({kMarginMm, flow.y + 0.6}, kName - 2, name, lines(kBody, 1));
    page.write({kMarginMm + kName, flow.y + 0.6}, kWidth - kName, value, kStrong);
    flow.y += height;
  }
  flow.y += 4;
}

void draw_materials(Flow& flow, const Plan& plan) {
  std::vector<std::pair<std::string, std::string>> rows;
  for (const auto& [size, count] : plan.materials.pins) rows.push_back({"pins, size " + size, std::to_string(count)});
  if (const std::string boards = board_words(plan.materials.boards_at_once); !boards.empty())
    rows.push_back({"setting boards at once, by groove", boards});
  if (plan.materials.data_labels > 0)
    rows.push_back(
        {"labels on pins", fmt::format("{} of data, {} with codes", plan.materials.data_labels, plan.materials.code_labels)});
  for (const auto& [size, count] : plan.materials.new_envelopes)
    rows.push_back({fmt::format("new envelopes, {}", size_words(size)), std::to_string(count)});
  if (plan.materials.envelope_labels > 0)
    rows.push_back({"labels on new envelopes", std::to_string(plan.materials.envelope_labels)});
  if (rows.empty()) return;
  draw_caps(flow, "HAVE READY, SPARES INCLUDED");
  draw_rows(flow, rows);
}

void draw_space(Flow& flow, const Plan& plan) {
  const Space& space = plan.space;
  std::vector<std::pair<std::string, std::string>> rows;
  std::vector<std::string> trays;
  for (std::size_t k = 0; k < space.trays.size(); ++k)
    if (space.trays[k] > 0) trays.push_back(fmt::format("{} × {}", space.trays[k], 1 << k));
  if (!trays.empty()) {
    rows.push_back({"unit trays, in smallest trays each", joined(trays, ", ")});
    rows.push_back({"drawers, at least", std::to_string(space.drawers)});
    rows.push_back(
        {"height needed over the foam", fmt::format("{:g} mm{}", space.needed_height_mm,
                                                    space.high_enough ? "" : ": the drawers named are too low for the pins")});
  }
  if (space.papered_row_mm > 0)
    rows.push_back({"new envelopes standing in a row", fmt::format("{:.0f} mm", space.papered_row_mm)});
  if (space.emptied_row_mm > 0)
    rows.push_back({"old envelopes kept, in a row (or their pictures)", fmt::format("{:.0f} mm", space.emptied_row_mm)});
  if (space.waiting_row_mm > 0) rows.push_back({"left as they are, in a row", fmt::format("{:.0f} mm", space.waiting_row_mm)});
  if (rows.empty()) return;
  draw_caps(flow, "SPACE");
  draw_rows(flow, rows);
}

void draw_figures(Flow& flow, const PlanSettings& settings) {
  draw_caps(flow, "WHAT THIS PLAN RESTS ON");
  const Type small{6.2, kText};
  for (const Figure& figure : figures_of(settings)) {
    const Page& measured = flow.room_for(0);
    const double height = std::max(measured.height_of(58, figure.meaning, with(small, kQuiet)),
                                   measured.height_of(66, figure.source, with(small, kQuiet))) +
                          0.6;
    Page& page = flow.room_for(height);
    page.write({kMarginMm, flow.y}, 38, figure.name, lines(small, 1));
    page.write({kMarginMm + 39, flow.y}, 16, joined({figure.value, figure.unit}, " "), lines(small, 1));
    page.write({kMarginMm + 56, flow.y}, 58, figure.meaning, with(small, kQuiet));
    page.write({kMarginMm + 116, flow.y}, 66, figure.source, with(small, kQuiet));
    flow.y += height;
  }
}

}  // namespace

std::string plan_pdf(const Plan& plan, const PlanSettings& settings, const std::string& made) {
  std::size_t set = 0;
  for (const Batch& batch : plan.batches) set += batch.ids.size();
  std::size_t repapered = 0;
  for (const RepaperDay& day : plan.repaper) repapered += day.ids.size();
  return pdf({"Bench plan", made, "papillote · bench plan · " + made.substr(0, 10), false}, [&](Book& book) {
    Flow flow(book, [](Page& page) {
      page.write({kMarginMm, kMarginMm - 4}, kWidth, "Bench plan, continued", lines(kSmall, 1));
      return kMarginMm + 2;
    });
    Page& page = book.page();
    flow.y += page.write({kMarginMm, flow.y}, kWidth, "Bench plan", kTitle) + 1;
    flow.y += page.write({kMarginMm, flow.y}, kWidth,
                         fmt::format("{} to relax and set in {} batches · {} into new envelopes · {} left for later", set,
                                     plan.batches.size(), repapered, plan.later.size()),
                         kStrong) +
              0.8;
    flow.y += page.write({kMarginMm, flow.y}, kWidth,
                         "Times are first looks from published practice, not promises. Sizes come from closed envelopes: check "
                         "by eye. The old "
                         "envelope or its picture stays with every specimen.",
                         with(kBody, kQuiet)) +
              1;
    if (!plan.without_size.empty())
      flow.y += page.write({kMarginMm, flow.y}, kWidth,
                           fmt::format("{} have no measured size and are not planned: {}", plan.without_size.size(),
                                       joined(plan.without_size, ", ")),
                           lines(with(kBody, kCaution), 3));
    flow.y += 3;
    flow.y += caution(page, {kMarginMm, flow.y}, kWidth, agents_caution().heading, agents_caution().text) + 1.2;
    flow.y += caution(page, {kMarginMm, flow.y}, kWidth, residues_caution().heading, residues_caution().text) + 5;
    if (!plan.batches.empty()) draw_strip(flow, plan);
    draw_calendar(flow, plan, settings);
    std::map<std::string, std::vector<int>> notes;
    for (const Batch& batch : plan.batches)
      for (const std::string& note : batch.notes) notes[note].push_back(batch.number);
    for (const auto& [note, batches] : notes) {
      Page& noted = flow.room_for(8);
      const std::string words = fmt::format("Batch{} {}: {}.", batches.size() == 1 ? "" : "es", fmt::join(batches, ", "), note);
      flow.y += noted.write({kMarginMm, flow.y}, kWidth, words, lines(with(kSmall, kCaution), 2)) + 0.8;
    }
    flow.y += 3;
    draw_materials(flow, plan);
    draw_space(flow, plan);
    draw_figures(flow, settings);
  });
}

std::string plan_csv(const Plan& plan) {
  std::string table = csv_row({"id", "outcome", "batch", "size", "into_chamber", "on_board", "off_board"});
  for (const Batch& batch : plan.batches)
    for (const std::string& id : batch.ids)
      table += csv_row({id, "set", std::to_string(batch.number), std::string(name_of(batch.size)),
                        iso_words(batch.into_chamber), iso_words(batch.on_board), iso_words(batch.off_board)});
  for (const RepaperDay& day : plan.repaper)
    for (const std::string& id : day.ids) table += csv_row({id, "repaper", "", "", iso_words(day.day), "", ""});
  for (const std::string& id : plan.later) table += csv_row({id, "later", "", "", "", "", ""});
  for (const std::string& id : plan.without_size) table += csv_row({id, "to measure", "", "", "", "", ""});
  return table;
}

}  // namespace papillote::bench
